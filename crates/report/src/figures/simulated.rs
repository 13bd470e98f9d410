//! A rendered picture, marked as such so that nobody takes it for a photograph, even cut out of the page.

use super::Figure;
use super::plot::{PANEL_WIDTH, round_below};
use super::svg::{Anchor, Canvas, Ink, Pen, SMALL, TEXT, number};
use crate::dossier::Simulated;

/// What a finish would have looked like; `base64` is the encoded picture.
pub(crate) fn simulated(title: &str, simulated: &Simulated, base64: &str) -> Figure {
    let (width_px, height_px) =
        (simulated.picture.width_px.max(1) as f64, simulated.picture.height_px.max(1) as f64);
    let units_per_px = ((PANEL_WIDTH - 8.0) / width_px).min(226.0 / height_px);
    let size = [width_px * units_per_px, height_px * units_per_px];
    let mut canvas = Canvas::default();
    canvas.bold([4.0, 13.0], Anchor::Start, TEXT, &format!("Simulated: {title}"));
    canvas.image([4.0, 20.0], size, simulated.picture.kind.mime(), base64);
    let drawn = draw_strokes(&mut canvas, simulated, size, units_per_px);
    canvas.rectangle([8.0, 24.0], [70.0, 16.0], Ink::White);
    canvas.bold_in([43.0, 36.0], Anchor::Middle, SMALL, Ink::Black, "SIMULATED");
    canvas.frame([4.0, 20.0], size, Pen::dashed(Ink::Dark, 1.5));
    let y = 20.0 + size[1] + 12.0;
    let bar = match simulated.field_width_mm.filter(|width_mm| *width_mm > 0.0) {
        Some(width_mm) => {
            let length_um = round_below(width_mm * 1000.0 / 3.0);
            let label = if length_um >= 1000.0 {
                format!("{} mm", number(length_um / 1000.0))
            } else {
                format!("{} µm", number(length_um))
            };
            let length = length_um / (width_mm * 1000.0) * size[0];
            canvas.line([4.0, y], [4.0 + length, y], Pen::solid(Ink::Dark, 2.5));
            canvas.text([4.0 + length + 7.0, y + 4.0], Anchor::Start, SMALL, &label);
            format!("The scale bar is {label}.")
        }
        None => {
            canvas.text([4.0, y + 4.0], Anchor::Start, SMALL, "no scale");
            "There is no scale.".to_owned()
        }
    };
    let description = format!(
        "Simulated picture, not a photograph, of {title} with the field, optics and light of {}. {bar}{}",
        simulated.like_capture,
        if drawn { " On the right half the simulated strokes are drawn in." } else { "" }
    );
    canvas.finish(format!("Simulated: {title}"), description, PANEL_WIDTH, y + 12.0)
}

/// Draws the strokes over the right half of the picture: many are too faint to be seen at the size of a page.
fn draw_strokes(canvas: &mut Canvas, simulated: &Simulated, size: [f64; 2], units_per_px: f64) -> bool {
    let half = size[0] / 2.0;
    let mut data = String::new();
    for stroke in &simulated.strokes_px {
        // Pixel centres have whole coordinates, the picture begins half a pixel before the first.
        let place = |[x, y]: [f64; 2]| [(x + 0.5) * units_per_px - half, (y + 0.5) * units_per_px];
        let points: Vec<[f64; 2]> = stroke.iter().map(|point| place(*point)).collect();
        if points.len() < 2 || points.iter().all(|point| point[0] < 0.0) {
            continue;
        }
        for (index, point) in points.iter().enumerate() {
            let start = if index == 0 { 'M' } else { 'L' };
            data.push_str(&format!("{start}{} {}", number(point[0]), number(point[1])));
        }
    }
    if data.is_empty() {
        return false;
    }
    canvas.open_window([4.0 + half, 20.0], [half, size[1]]);
    canvas.veil([0.0, 0.0], [half, size[1]], 0.45);
    canvas.strokes(&data, "#1b4f8a", 0.7, "");
    canvas.close_window();
    true
}
