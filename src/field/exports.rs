//! The three functions a browser calls. Text goes in and comes out as UTF-8 in the module's memory.

/// Room for `len` bytes, which the caller fills and hands to [`call`].
#[unsafe(no_mangle)]
pub extern "C" fn alloc(len: usize) -> *mut u8 {
    let mut room = std::mem::ManuallyDrop::new(Vec::<u8>::with_capacity(len));
    room.as_mut_ptr()
}

/// Gives room back: what [`alloc`] gave and was not handed to [`call`], or an answer of [`call`].
///
/// # Safety
/// `at` and `len` are those of such a piece of room, and it is given back once.
#[unsafe(no_mangle)]
pub unsafe extern "C" fn free(at: *mut u8, len: usize) {
    // SAFETY: the caller's promise; both sides allocate with a capacity equal to the length.
    drop(unsafe { Vec::from_raw_parts(at, 0, len) });
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
    let answer = super::call(&String::from_utf8_lossy(&question))
        .into_bytes()
        .into_boxed_slice();
    let len = answer.len() as u64;
    let at = Box::into_raw(answer).cast::<u8>() as usize as u64;
    (at << 32) | len
}
