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

/// Stands for a character that no face has.
pub const STAND_IN: char = '\u{25a1}';

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

/// Whether some face has a letter for a character, or it needs none.
pub fn printable(c: char) -> bool {
    c.is_ascii() || c.is_whitespace() || c.is_control() || is_joiner(c) || {
        FONTS
            .faces
            .iter()
            .any(|face| face.info().coverage.contains(u32::from(c)))
    }
}

/// Marks that join or turn the letters round them and are never seen themselves.
pub fn is_joiner(c: char) -> bool {
    matches!(c, '\u{200b}'..='\u{200f}' | '\u{202a}'..='\u{202e}' | '\u{2060}'..='\u{2069}' | '\u{fe00}'..='\u{fe0f}' | '\u{feff}')
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn what_no_face_has_is_known() {
        for c in "aé–“½≤αжשم▲✓".chars() {
            assert!(printable(c), "{c}");
        }
        for c in "🧱漢".chars() {
            assert!(!printable(c), "{c}");
        }
        assert!(printable(STAND_IN));
    }

    #[test]
    fn every_face_is_there_under_its_name() {
        assert_eq!(FONTS.faces.len(), FILES.len());
        for family in ["libertinus serif", "liberation sans", "dejavu sans"] {
            assert!(FONTS.book.contains_family(family), "{family}");
        }
    }
}
