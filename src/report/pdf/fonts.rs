//! The typefaces of the papers, in the program itself: a serif for reading, a sans serif for
//! labels and drawings, and one with many scripts for what the others lack.

use std::sync::LazyLock;

use typst::foundations::Bytes;
use typst::text::{Font, FontBook};
use typst::utils::LazyHash;

static FILES: [&[u8]; 6] = [
    include_bytes!("../../../templates/fonts/LibertinusSerif-Regular.otf"),
    include_bytes!("../../../templates/fonts/LibertinusSerif-Bold.otf"),
    include_bytes!("../../../templates/fonts/LibertinusSerif-Italic.otf"),
    include_bytes!("../../../templates/fonts/LiberationSans-Regular.ttf"),
    include_bytes!("../../../templates/fonts/LiberationSans-Bold.ttf"),
    include_bytes!("../../../templates/fonts/DejaVuSans.ttf"),
];

/// The typefaces and their index.
pub struct Fonts {
    /// What there is.
    pub book: LazyHash<FontBook>,
    /// The faces.
    pub faces: Vec<Font>,
}

/// Read once for a run of many papers.
pub static FONTS: LazyLock<Fonts> = LazyLock::new(|| {
    let faces: Vec<Font> = FILES
        .iter()
        .flat_map(|file| Font::iter(Bytes::new(*file)))
        .collect();
    Fonts {
        book: LazyHash::new(FontBook::from_fonts(&faces)),
        faces,
    }
});

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn every_face_is_there_under_its_name() {
        assert_eq!(FONTS.faces.len(), FILES.len());
        for family in ["libertinus serif", "liberation sans", "dejavu sans"] {
            assert!(FONTS.book.contains_family(family), "{family}");
        }
    }
}
