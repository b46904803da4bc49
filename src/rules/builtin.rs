//! The pack built into the program. It is read and compiled when the program is built (`build.rs`),
//! so that no start of the program pays for it.

use std::sync::Arc;

use crate::rules::{Pack, PackFile};
use crate::source::{Node, Problem, Problems, SourceFile};

include!(concat!(env!("OUT_DIR"), "/rules.rs"));

fn texts() -> impl Iterator<Item = SourceFile> {
    TEXTS.iter().map(|(name, text)| SourceFile {
        name: Arc::from(*name),
        text: Arc::from(*text),
    })
}

/// Files of the built-in pack, in path order, for laying a house pack over them and for checking.
pub fn builtin_files() -> Vec<PackFile> {
    let trees: Vec<Node> = postcard::from_bytes(TREES).unwrap_or_default();
    texts()
        .zip(trees)
        .map(|(file, root)| PackFile {
            file,
            root,
            house: false,
        })
        .collect()
}

/// The built-in pack.
///
/// # Errors
/// Its stored form can't be read: the program file is damaged.
pub fn builtin() -> Result<Pack, Problems> {
    match restored(PACK) {
        Some(mut pack) => {
            // In a browser nobody reads the rules' own text, which would be a quarter of the module.
            if cfg!(not(target_arch = "wasm32")) {
                pack.files = texts().collect();
            }
            Ok(pack)
        }
        None => {
            let mut problems = Problems::default();
            problems.push(
                Problem::error(
                    "built-in-pack",
                    "the rules inside the program can't be read",
                )
                .hint("the program file is damaged: install it again"),
            );
            Err(problems)
        }
    }
}

/// A compiled pack in its stored form, without the text of its files. `None` when memory runs out.
pub fn stored(pack: &Pack) -> Option<Vec<u8>> {
    postcard::to_allocvec(pack).ok()
}

/// A pack out of its stored form; the same version of the program must have stored it. `None` when
/// the bytes are no such form.
pub fn restored(bytes: &[u8]) -> Option<Pack> {
    postcard::from_bytes(bytes).ok()
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::rules::load;

    #[test]
    fn the_stored_pack_is_the_one_its_files_give() {
        let mut problems = Problems::default();
        let loaded = load(&builtin_files(), &mut problems).expect("the files load");
        let stored = builtin().expect("the stored pack reads");
        assert_eq!(stored.fingerprint, loaded.fingerprint);
        assert_eq!(stored.files.len(), loaded.files.len());
        // Every part, but for the maps of names, whose order in memory means nothing.
        assert_eq!(
            format!("{:?}", stored.tables),
            format!("{:?}", loaded.tables)
        );
        assert_eq!(format!("{:?}", stored.cells), format!("{:?}", loaded.cells));
        assert_eq!(
            format!("{:?}", stored.causes),
            format!("{:?}", loaded.causes)
        );
        assert_eq!(format!("{:?}", stored.order), format!("{:?}", loaded.order));
        assert_eq!(
            format!("{:?}", stored.makers),
            format!("{:?}", loaded.makers)
        );
        let (a, b) = (&stored.vocabulary, &loaded.vocabulary);
        assert!(a.facts().eq(b.facts()));
        assert_eq!(a.figures(), b.figures());
        assert_eq!(a.glossary, b.glossary);
        for (id, fact) in b.facts() {
            assert_eq!(a.find(&fact.id), Some(id));
        }
    }
}
