//! The built-in rule pack must load and stand every proof.

use ringtrue::rules::{builtin_files, load_and_check};
use ringtrue::source::Problems;

#[test]
fn the_built_in_pack_is_sound() {
    let mut problems = Problems::default();
    let pack = load_and_check(&builtin_files(), &mut problems);
    assert!(
        pack.is_some() && problems.is_empty(),
        "{}",
        problems.render(false)
    );
}
