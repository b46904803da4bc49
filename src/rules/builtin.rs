//! The pack built into the program. Its YAML is parsed when the program is built, so that no
//! start of the program pays for it; names, masks and order are compiled at start from the trees.

use std::sync::Arc;

use crate::source::{Node, Problems, SourceFile};

use super::load::{PackFile, load};
use super::model::Pack;

include!(concat!(env!("OUT_DIR"), "/rules.rs"));

/// Files of the built-in pack, in path order.
pub fn builtin_files() -> Vec<PackFile> {
    let trees: Vec<Node> = postcard::from_bytes(TREES).unwrap_or_default();
    TEXTS
        .iter()
        .zip(trees)
        .map(|((name, text), root)| PackFile {
            file: SourceFile {
                name: Arc::from(*name),
                text: Arc::from(*text),
            },
            root,
            house: false,
        })
        .collect()
}

/// The built-in pack.
///
/// # Errors
/// Its problems, should it not load; a test and the build check make sure that it does.
pub fn builtin() -> Result<Pack, Problems> {
    let mut problems = Problems::default();
    load(&builtin_files(), &mut problems).ok_or(problems)
}
