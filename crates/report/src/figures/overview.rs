//! The overview photograph with the stations pinned on it.

use base64::Engine as _;

use super::Figure;
use super::svg::{Anchor, Canvas, Ink, Pen, SMALL, TEXT};
use crate::dossier::Overview;
use crate::words;

/// Width of a figure over the full text width, drawing units.
pub(crate) const WIDE: f64 = 650.0;

/// Tallest overview, drawing units: it must leave room for its caption on a page.
const TALLEST: f64 = 520.0;

/// An overview with its pins. A pin is a ring with the station's label beside it, readable on any ground.
#[must_use]
pub fn overview(overview: &Overview) -> Figure {
    let (width_px, height_px) =
        (overview.picture.width_px.max(1) as f64, overview.picture.height_px.max(1) as f64);
    let units_per_px = (WIDE / width_px).min(TALLEST / height_px);
    let (width, height) = (width_px * units_per_px, height_px * units_per_px);
    let mut canvas = Canvas::default();
    let data = base64::engine::general_purpose::STANDARD.encode(&overview.picture.bytes);
    canvas.image([0.0, 0.0], [width, height], overview.picture.kind.mime(), &data);
    for pin in &overview.pins {
        let centre = [pin.x_share.clamp(0.0, 1.0) * width, pin.y_share.clamp(0.0, 1.0) * height];
        draw_pin(&mut canvas, centre, &pin.station, width);
    }
    canvas.frame([0.4, 0.4], [width - 0.8, height - 0.8], Pen::solid(Ink::Dark, 0.8));
    let labels: Vec<&str> = overview.pins.iter().map(|pin| pin.station.as_str()).collect();
    let pins = match labels.len() {
        0 => "No station is pinned on it.".to_owned(),
        1 => format!("Station {} is pinned on it.", words::list(&labels)),
        _ => format!("Stations {} are pinned on it.", words::list(&labels)),
    };
    let note = overview.note.as_deref().map(words::sentence).unwrap_or_default();
    canvas.finish(format!("Overview {}", overview.file_name), format!("{note} {pins}").trim(), width, height)
}

fn draw_pin(canvas: &mut Canvas, centre: [f64; 2], label: &str, width: f64) {
    canvas.circle(centre, 6.0, Pen::solid(Ink::White, 4.5));
    canvas.circle(centre, 6.0, Pen::solid(Ink::Black, 2.0));
    let text_width = 10.0 + label.chars().count() as f64 * 8.0;
    let x =
        if centre[0] + 12.0 + text_width > width { centre[0] - 12.0 - text_width } else { centre[0] + 12.0 };
    canvas.rectangle([x, centre[1] - 9.0], [text_width, 18.0], Ink::White);
    canvas.frame([x, centre[1] - 9.0], [text_width, 18.0], Pen::solid(Ink::Black, 0.8));
    let size = if label.chars().count() > 6 { SMALL } else { TEXT };
    canvas.bold_in([x + text_width / 2.0, centre[1] + 4.2], Anchor::Middle, size, Ink::Black, label);
}
