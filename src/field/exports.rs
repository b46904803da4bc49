//! The functions a browser calls. Text goes in and comes out as UTF-8 in the module's memory.

use std::sync::OnceLock;

use super::Core;

/// What answers where house rules were laid over the built-in ones.
static HOUSE: OnceLock<Core> = OnceLock::new();

/// Room for `len` bytes, which the caller fills and hands to [`call`] or [`lay`].
#[unsafe(no_mangle)]
pub extern "C" fn alloc(len: usize) -> *mut u8 {
    let mut room = std::mem::ManuallyDrop::new(Vec::<u8>::with_capacity(len));
    room.as_mut_ptr()
}

/// Gives room back: what [`alloc`] gave and was not handed to [`call`] or [`lay`], or an answer of
/// [`call`].
///
/// # Safety
/// `at` and `len` are those of such a piece of room, and it is given back once.
#[unsafe(no_mangle)]
pub unsafe extern "C" fn free(at: *mut u8, len: usize) {
    // SAFETY: the caller's promise; both sides allocate with a capacity equal to the length.
    drop(unsafe { Vec::from_raw_parts(at, 0, len) });
}

/// Lays house rules over the built-in ones, before the first question: the `len` bytes at `at` are
/// rules in their stored form, and are taken over. 1 when they answer from now on, else 0.
///
/// # Safety
/// `at` is what [`alloc`] gave for `len`, filled, and not given back.
#[unsafe(no_mangle)]
pub unsafe extern "C" fn lay(at: *mut u8, len: usize) -> u32 {
    // SAFETY: the caller's promise.
    let rules = unsafe { Vec::from_raw_parts(at, len, len) };
    u32::from(Core::stored(&rules).is_ok_and(|core| HOUSE.set(core).is_ok()))
}

/// Answers the question in the `len` bytes at `at`, which are taken over. The answer's place stands
/// in the upper 32 bits, its length in the lower.
///
/// # Safety
/// `at` is what [`alloc`] gave for `len`, filled, and not given back.
#[unsafe(no_mangle)]
pub unsafe extern "C" fn call(at: *mut u8, len: usize) -> u64 {
    // SAFETY: the caller's promise.
    let question = unsafe { Vec::from_raw_parts(at, len, len) };
    let question = String::from_utf8_lossy(&question);
    let answer = match HOUSE.get() {
        Some(core) => core.call(&question),
        None => super::call(&question),
    };
    let answer = answer.into_bytes().into_boxed_slice();
    let len = answer.len() as u64;
    let at = Box::into_raw(answer).cast::<u8>() as usize as u64;
    (at << 32) | len
}
