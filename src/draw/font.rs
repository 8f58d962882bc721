//! The face that pictures and PDF pages are lettered in: DejaVu Sans, shipped with the program, so that a page looks the
//! same on every machine. Its licence lies beside it in `font/`. An SVG names it and leaves the choice to its viewer.
//!
//! A character the face does not hold is drawn as its empty box: what cannot be shown is seen to be missing.

use std::sync::{Arc, LazyLock};

use krilla::text::Font;
use resvg::usvg::fontdb::Database;
use ttf_parser::Face;

static PLAIN: &[u8] = include_bytes!("font/DejaVuSans.ttf");
static BOLD: &[u8] = include_bytes!("font/DejaVuSans-Bold.ttf");

/// One cut of the face: what embeds it, and what measures it.
pub(crate) struct Cut {
    pub(crate) font: Font,
    face: Face<'static>,
}

static CUTS: LazyLock<[Cut; 2]> = LazyLock::new(|| [cut(PLAIN), cut(BOLD)]);

fn cut(data: &'static [u8]) -> Cut {
    let shared: Arc<dyn AsRef<[u8]> + Send + Sync> = Arc::new(data);
    let font = Font::new(shared.into(), 0).expect("the face shipped is a font");
    Cut { font, face: Face::parse(data, 0).expect("the face shipped is a font") }
}

/// The plain or the bold cut.
pub(crate) fn lettering(bold: bool) -> &'static Cut {
    &CUTS[usize::from(bold)]
}

impl Cut {
    /// How long a line of text is at an em of `size`, in the unit of `size`.
    pub(crate) fn advance(&self, text: &str, size: f64) -> f64 {
        let units: u64 = text
            .chars()
            .map(|c| self.face.glyph_index(c).unwrap_or_default())
            .map(|glyph| u64::from(self.face.glyph_hor_advance(glyph).unwrap_or_default()))
            .sum();
        units as f64 / f64::from(self.face.units_per_em()) * size
    }
}

/// Both cuts, for a renderer that looks fonts up by name; every name comes to this face.
pub(crate) fn database() -> Arc<Database> {
    static FACES: LazyLock<Arc<Database>> = LazyLock::new(|| {
        let mut faces = Database::new();
        for data in [PLAIN, BOLD] {
            faces.load_font_data(data.to_vec());
        }
        faces.set_sans_serif_family("DejaVu Sans");
        Arc::new(faces)
    });
    Arc::clone(&FACES)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::draw::text;

    #[test]
    fn the_layout_was_measured_in_this_face() {
        let words = "Rough crosscut 31 1/2\" from the left end (cuts 1-2), \u{d7} \u{b7} \u{2013}";
        let (laid, drawn) = (text::width(words, 10.0, false), lettering(false).advance(words, 10.0));
        // `text` keeps whole thousandths of an em, the face 2048ths.
        assert!((laid - drawn).abs() < 0.005 * words.len() as f64, "{laid} {drawn}");
        assert!(lettering(true).advance(words, 10.0) <= text::width(words, 10.0, true));
    }
}
