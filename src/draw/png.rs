//! The drawing model as a picture (PNG), for screens that show no SVG.
//!
//! The SVG is the drawing; this only renders it, in the program's own face. A picture has a fixed number of dots to the
//! millimetre, fewer when a very long sheet would otherwise fill a machine's memory.

use resvg::tiny_skia::{Pixmap, Transform};
use resvg::usvg::{Options, Tree};

use super::model::Drawing;
use super::{DrawError, font, svg};

/// Dots to the millimetre: 203 to the inch, fine enough to read the smallest label and to print.
const DOTS: f64 = 8.0;
/// Most dots along one side of a picture.
const LONGEST: f64 = 6000.0;

/// The drawing as a PNG file. Equal drawings give equal bytes.
pub(crate) fn write(drawing: &Drawing) -> Result<Vec<u8>, DrawError> {
    let failed = |what: String| DrawError::Picture { what };
    let options = Options { fontdb: font::database(), font_family: "DejaVu Sans".to_owned(), ..Options::default() };
    let tree = Tree::from_str(&svg::write(drawing), &options).map_err(|error| failed(error.to_string()))?;
    let dots = DOTS.min(LONGEST / drawing.width.max(drawing.height).max(1.0));
    let side = |length: f64| (length * dots).ceil().max(1.0) as u32;
    let (width, height) = (side(drawing.width), side(drawing.height));
    let mut picture =
        Pixmap::new(width, height).ok_or_else(|| failed(format!("{width} by {height} dots are too many")))?;
    let scale = |dots: u32, of: f32| dots as f32 / of;
    let size = tree.size();
    let transform = Transform::from_scale(scale(width, size.width()), scale(height, size.height()));
    resvg::render(&tree, transform, &mut picture.as_mut());
    picture.encode_png().map_err(|error| failed(error.to_string()))
}
