//! Bytes of a file as text.

/// What is told of bytes that are no text.
pub const NOT_UTF8: &str = "this is not UTF-8 text";
/// How to mend that.
pub const SAVE_IT: &str = "save the file as UTF-8 and try again";

/// The text of a file.
///
/// # Errors
/// Where it is not UTF-8: file, line, and what to do.
pub fn utf8(name: &str, bytes: Vec<u8>) -> Result<String, String> {
    String::from_utf8(bytes).map_err(|error| {
        let before = error.utf8_error().valid_up_to();
        let before = error.as_bytes().iter().take(before);
        let line = before.filter(|b| **b == b'\n').count() + 1;
        format!("{name}:{line}: {NOT_UTF8}; {SAVE_IT}")
    })
}
