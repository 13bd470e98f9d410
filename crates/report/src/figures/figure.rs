//! A finished drawing, and how a page may colour it.

use super::svg::{Canvas, escape, number};

/// Style rules that let figures follow the page's colours. Without them figures are black on white.
///
/// The page may set `--figure-ink`, `--figure-mid`, `--figure-faint`, `--figure-wash`, `--figure-paper`,
/// `--figure-first` and `--figure-second`.
pub const THEME_CSS: &str = "\
.f-ink-s{stroke:var(--figure-ink,#111)}.f-ink-f{fill:var(--figure-ink,#111)}\
.f-mid-s{stroke:var(--figure-mid,#555)}.f-mid-f{fill:var(--figure-mid,#555)}\
.f-faint-s{stroke:var(--figure-faint,#c4c4c4)}.f-faint-f{fill:var(--figure-faint,#c4c4c4)}\
.f-wash-s{stroke:var(--figure-wash,#e6e6e6)}.f-wash-f{fill:var(--figure-wash,#e6e6e6)}\
.f-paper-s{stroke:var(--figure-paper,#fff)}.f-paper-f{fill:var(--figure-paper,#fff)}\
.f-first-s{stroke:var(--figure-first,#1b4f8a)}.f-first-f{fill:var(--figure-first,#1b4f8a)}\
.f-second-s{stroke:var(--figure-second,#a84f00)}.f-second-f{fill:var(--figure-second,#a84f00)}";

/// Font families of all figures: whatever sans-serif the reader has; in the PDF the embedded text face.
const FONTS: &str = "Helvetica, Arial, 'Liberation Sans', 'DejaVu Sans', 'Libertinus Serif', sans-serif";

/// A finished drawing with its alternative text.
#[derive(Debug, Clone, PartialEq)]
pub struct Figure {
    /// Short name, also the drawing's `<title>`.
    pub title: String,
    /// What the drawing says, in words and numbers, for those who cannot see it; also its `<desc>`.
    pub description: String,
    /// Width in drawing units (about ¾ pt each on paper, 1 px on screen).
    pub width: f64,
    /// Height in drawing units.
    pub height: f64,
    pub(super) body: String,
}

impl Figure {
    /// The drawing as an `<svg>` element. `id` must be unique on the page and made of letters, digits, `-` and `_`.
    #[must_use]
    pub fn svg(&self, id: &str) -> String {
        format!(
            "<svg xmlns=\"http://www.w3.org/2000/svg\" viewBox=\"0 0 {w} {h}\" width=\"{w}\" height=\"{h}\" role=\"img\" \
             aria-labelledby=\"{id}-t {id}-d\" font-family=\"{FONTS}\" font-size=\"12\"><title id=\"{id}-t\">{title}</title>\
             <desc id=\"{id}-d\">{desc}</desc>{body}</svg>",
            w = number(self.width),
            h = number(self.height),
            id = escape(id),
            title = escape(&self.title),
            desc = escape(&self.description),
            body = self.body,
        )
    }

    /// A drawing that is one embedded picture, for pictures that another crate rendered.
    #[must_use]
    pub fn of_picture(title: &str, description: &str, picture: &crate::dossier::Image) -> Self {
        use base64::Engine as _;
        let (width_px, height_px) = (picture.width_px.max(1) as f64, picture.height_px.max(1) as f64);
        let units_per_px = (650.0 / width_px).min(520.0 / height_px);
        let (width, height) = (width_px * units_per_px, height_px * units_per_px);
        let mut canvas = Canvas::default();
        let data = base64::engine::general_purpose::STANDARD.encode(&picture.bytes);
        canvas.image([0.0, 0.0], [width, height], picture.kind.mime(), &data);
        canvas.finish(title, description, width, height)
    }

    /// The alternative text in one string: title, then description.
    #[must_use]
    pub fn alternative_text(&self) -> String {
        format!("{}. {}", self.title.trim_end_matches('.'), self.description)
    }
}
