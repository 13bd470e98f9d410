//! The SVG writer: shapes and texts in, one string out.
//!
//! Colours are written as plain attributes, black on white, so that a figure prints anywhere; each also carries a class,
//! so that a page's style sheet ([`super::THEME_CSS`]) can follow a dark theme.

use std::fmt::Write as _;

use super::Figure;

/// Grey or colour of a line or an area. Never the only thing that tells two things apart.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum Ink {
    /// Text and frames.
    Dark,
    /// Second-rank text and lines.
    Mid,
    /// Grid lines.
    Faint,
    /// Zones and bands.
    Wash,
    /// The ground.
    Paper,
    /// First data series.
    First,
    /// Second data series.
    Second,
    /// Black and white that stay so on any page: they lie on a picture.
    Black,
    White,
}

impl Ink {
    fn name_and_colour(self) -> (&'static str, &'static str) {
        match self {
            Self::Dark => ("ink", "#111"),
            Self::Mid => ("mid", "#555"),
            Self::Faint => ("faint", "#c4c4c4"),
            Self::Wash => ("wash", "#e6e6e6"),
            Self::Paper => ("paper", "#fff"),
            Self::First => ("first", "#1b4f8a"),
            Self::Second => ("second", "#a84f00"),
            Self::Black => ("black", "#111"),
            Self::White => ("white", "#fff"),
        }
    }
}

/// How a line is drawn.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) struct Pen {
    ink: Ink,
    width: f64,
    dash: &'static str,
}

impl Pen {
    /// An unbroken line.
    pub(crate) const fn solid(ink: Ink, width: f64) -> Self {
        Self { ink, width, dash: "" }
    }

    /// A line with a dash pattern of the caller's.
    pub(crate) const fn with_dash(ink: Ink, width: f64, dash: &'static str) -> Self {
        Self { ink, width, dash }
    }

    /// A line of long dashes.
    pub(crate) const fn dashed(ink: Ink, width: f64) -> Self {
        Self { ink, width, dash: "5 3" }
    }

    /// A line of dots.
    pub(crate) const fn dotted(ink: Ink, width: f64) -> Self {
        Self { ink, width, dash: "1.2 2.4" }
    }

    fn attributes(self) -> String {
        let (name, colour) = self.ink.name_and_colour();
        let dash =
            if self.dash.is_empty() { String::new() } else { format!(" stroke-dasharray=\"{}\"", self.dash) };
        format!(
            "class=\"f-{name}-s\" fill=\"none\" stroke=\"{colour}\" stroke-width=\"{}\"{dash}",
            number(self.width)
        )
    }
}

/// Where a text hangs on its point.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum Anchor {
    Start,
    Middle,
    End,
}

impl Anchor {
    fn word(self) -> &'static str {
        match self {
            Self::Start => "start",
            Self::Middle => "middle",
            Self::End => "end",
        }
    }
}

/// Normal and small text, drawing units.
pub(crate) const TEXT: f64 = 12.0;
pub(crate) const SMALL: f64 = 10.5;

/// A drawing in the making. Points are `[x, y]`, y down.
#[derive(Debug, Default)]
pub(crate) struct Canvas {
    body: String,
}

impl Canvas {
    pub(crate) fn finish(
        self,
        title: impl Into<String>,
        description: impl Into<String>,
        width: f64,
        height: f64,
    ) -> Figure {
        Figure { title: title.into(), description: description.into(), width, height, body: self.body }
    }

    fn push(&mut self, shape: std::fmt::Arguments<'_>) {
        // Writing into a String cannot fail.
        let _ = self.body.write_fmt(shape);
    }

    pub(crate) fn line(&mut self, from: [f64; 2], to: [f64; 2], pen: Pen) {
        let ([x1, y1], [x2, y2]) = (from.map(number), to.map(number));
        self.push(format_args!(
            "<line x1=\"{x1}\" y1=\"{y1}\" x2=\"{x2}\" y2=\"{y2}\" {}/>",
            pen.attributes()
        ));
    }

    pub(crate) fn polyline(&mut self, points: &[[f64; 2]], pen: Pen) {
        let points = join_points(points);
        self.push(format_args!("<polyline points=\"{points}\" {}/>", pen.attributes()));
    }

    pub(crate) fn area(&mut self, points: &[[f64; 2]], ink: Ink) {
        let (points, (name, colour)) = (join_points(points), ink.name_and_colour());
        self.push(format_args!("<polygon points=\"{points}\" class=\"f-{name}-f\" fill=\"{colour}\"/>"));
    }

    pub(crate) fn rectangle(&mut self, corner: [f64; 2], size: [f64; 2], ink: Ink) {
        let ([x, y], [w, h], (name, colour)) = (corner.map(number), size.map(number), ink.name_and_colour());
        self.push(format_args!(
            "<rect x=\"{x}\" y=\"{y}\" width=\"{w}\" height=\"{h}\" class=\"f-{name}-f\" fill=\"{colour}\"/>"
        ));
    }

    pub(crate) fn frame(&mut self, corner: [f64; 2], size: [f64; 2], pen: Pen) {
        let ([x, y], [w, h]) = (corner.map(number), size.map(number));
        self.push(format_args!(
            "<rect x=\"{x}\" y=\"{y}\" width=\"{w}\" height=\"{h}\" {}/>",
            pen.attributes()
        ));
    }

    pub(crate) fn circle(&mut self, centre: [f64; 2], radius: f64, pen: Pen) {
        let [x, y] = centre.map(number);
        self.push(format_args!(
            "<circle cx=\"{x}\" cy=\"{y}\" r=\"{}\" {}/>",
            number(radius),
            pen.attributes()
        ));
    }

    pub(crate) fn dot(&mut self, centre: [f64; 2], radius: f64, ink: Ink) {
        let ([x, y], (name, colour)) = (centre.map(number), ink.name_and_colour());
        self.push(format_args!(
            "<circle cx=\"{x}\" cy=\"{y}\" r=\"{}\" class=\"f-{name}-f\" fill=\"{colour}\"/>",
            number(radius)
        ));
    }

    /// A filled and outlined path from raw path data.
    pub(crate) fn path(&mut self, data: &str, fill: Option<Ink>, pen: Pen) {
        let (name, colour) = fill.map_or(("none", "none"), Ink::name_and_colour);
        let (stroke_name, stroke) = pen.ink.name_and_colour();
        self.push(format_args!(
            "<path d=\"{data}\" class=\"f-{name}-f f-{stroke_name}-s\" fill=\"{colour}\" stroke=\"{stroke}\" stroke-width=\"{}\"/>",
            number(pen.width)
        ));
    }

    pub(crate) fn text(&mut self, at: [f64; 2], anchor: Anchor, size: f64, text: &str) {
        self.write_text(at, anchor, size, Ink::Dark, "", text);
    }

    pub(crate) fn text_in(&mut self, at: [f64; 2], anchor: Anchor, size: f64, ink: Ink, text: &str) {
        self.write_text(at, anchor, size, ink, "", text);
    }

    pub(crate) fn bold(&mut self, at: [f64; 2], anchor: Anchor, size: f64, text: &str) {
        self.bold_in(at, anchor, size, Ink::Dark, text);
    }

    pub(crate) fn bold_in(&mut self, at: [f64; 2], anchor: Anchor, size: f64, ink: Ink, text: &str) {
        self.write_text(at, anchor, size, ink, " font-weight=\"bold\"", text);
    }

    /// Text read from bottom to top.
    pub(crate) fn text_upwards(&mut self, at: [f64; 2], anchor: Anchor, size: f64, text: &str) {
        let [x, y] = at.map(number);
        let turn = format!(" transform=\"rotate(-90 {x} {y})\"");
        self.write_text(at, anchor, size, Ink::Dark, &turn, text);
    }

    fn write_text(&mut self, at: [f64; 2], anchor: Anchor, size: f64, ink: Ink, extra: &str, text: &str) {
        let ([x, y], (name, colour)) = (at.map(number), ink.name_and_colour());
        self.push(format_args!(
            "<text x=\"{x}\" y=\"{y}\" text-anchor=\"{}\" font-size=\"{}\" class=\"f-{name}-f\" fill=\"{colour}\"{extra}>{}</text>",
            anchor.word(),
            number(size),
            escape(text)
        ));
    }

    /// A text broken into lines of at most `columns` characters; returns the y of the line after the last.
    pub(crate) fn paragraph(
        &mut self,
        at: [f64; 2],
        anchor: Anchor,
        size: f64,
        columns: usize,
        text: &str,
    ) -> f64 {
        let [x, mut y] = at;
        for line in wrap(text, columns) {
            self.text_in([x, y], anchor, size, Ink::Mid, &line);
            y += size * 1.3;
        }
        y
    }

    /// An embedded picture.
    pub(crate) fn image(&mut self, corner: [f64; 2], size: [f64; 2], mime: &str, base64: &str) {
        let ([x, y], [w, h]) = (corner.map(number), size.map(number));
        self.push(format_args!(
            "<image x=\"{x}\" y=\"{y}\" width=\"{w}\" height=\"{h}\" preserveAspectRatio=\"none\" \
             href=\"data:{mime};base64,{base64}\"/>"
        ));
    }

    /// A translucent layer of paper that dims what lies under it.
    pub(crate) fn veil(&mut self, corner: [f64; 2], size: [f64; 2], opacity: f64) {
        let ([x, y], [w, h]) = (corner.map(number), size.map(number));
        self.push(format_args!(
            "<rect x=\"{x}\" y=\"{y}\" width=\"{w}\" height=\"{h}\" fill=\"#fff\" fill-opacity=\"{}\"/>",
            number(opacity)
        ));
    }

    /// Many lines in one element with colours of their own, independent of the theme (they lie on a picture).
    pub(crate) fn strokes(&mut self, data: &str, colour: &str, width: f64, dash: &str) {
        let dash = if dash.is_empty() { String::new() } else { format!(" stroke-dasharray=\"{dash}\"") };
        self.push(format_args!(
            "<path d=\"{data}\" fill=\"none\" stroke=\"{colour}\" stroke-width=\"{}\" stroke-linejoin=\"round\"{dash}/>",
            number(width)
        ));
    }

    /// An area with a colour of its own, independent of the theme (its colour is its value).
    pub(crate) fn fill(&mut self, data: &str, colour: &str) {
        self.push(format_args!("<path d=\"{data}\" fill=\"{colour}\"/>"));
    }

    /// Opens a part that cuts off whatever leaves its rectangle; coordinates inside start at its corner.
    pub(crate) fn open_window(&mut self, corner: [f64; 2], size: [f64; 2]) {
        let ([x, y], [w, h]) = (corner.map(number), size.map(number));
        self.push(format_args!("<svg x=\"{x}\" y=\"{y}\" width=\"{w}\" height=\"{h}\" viewBox=\"0 0 {w} {h}\" overflow=\"hidden\">"));
    }

    pub(crate) fn close_window(&mut self) {
        self.body.push_str("</svg>");
    }
}

/// A number as short as two decimals allow; what is not finite becomes 0 rather than an invalid file.
pub(crate) fn number(value: f64) -> String {
    if !value.is_finite() {
        return "0".into();
    }
    // Renderers keep coordinates in single precision; what lies further out is outside any page.
    let text = format!("{:.2}", value.clamp(-1e6, 1e6));
    let text = text.trim_end_matches('0').trim_end_matches('.');
    if text == "-0" || text.is_empty() { "0".into() } else { text.into() }
}

/// Text made safe for element content and attribute values; control characters that XML forbids are dropped.
pub(crate) fn escape(text: &str) -> String {
    let mut safe = String::with_capacity(text.len());
    for character in text.chars() {
        match character {
            '&' => safe.push_str("&amp;"),
            '<' => safe.push_str("&lt;"),
            '>' => safe.push_str("&gt;"),
            '"' => safe.push_str("&quot;"),
            '\'' => safe.push_str("&#39;"),
            '\n' | '\t' => safe.push(' '),
            forbidden if forbidden.is_control() || matches!(forbidden, '\u{fffe}' | '\u{ffff}') => {}
            other => safe.push(other),
        }
    }
    safe
}

fn join_points(points: &[[f64; 2]]) -> String {
    let mut joined = String::with_capacity(points.len() * 12);
    for (index, [x, y]) in points.iter().enumerate() {
        let gap = if index == 0 { "" } else { " " };
        let _ = write!(joined, "{gap}{},{}", number(*x), number(*y));
    }
    joined
}

/// Breaks a text at spaces into lines of at most `columns` characters; a longer word stands alone.
pub(crate) fn wrap(text: &str, columns: usize) -> Vec<String> {
    let mut lines: Vec<String> = Vec::new();
    for word in text.split_whitespace() {
        match lines.last_mut() {
            Some(line) if line.chars().count() + 1 + word.chars().count() <= columns => {
                line.push(' ');
                line.push_str(word);
            }
            _ => lines.push(word.to_owned()),
        }
    }
    lines
}

/// The first `limit` characters of a text, with an ellipsis where something was cut off.
pub(crate) fn shorten(text: &str, limit: usize) -> String {
    if text.chars().count() <= limit {
        return text.to_owned();
    }
    let mut short: String = text.chars().take(limit.saturating_sub(1)).collect();
    short.push('…');
    short
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn numbers_are_short_and_always_valid() {
        for (value, text) in
            [(1.0, "1"), (0.5, "0.5"), (-0.001, "0"), (12.345, "12.35"), (f64::NAN, "0"), (100.0, "100")]
        {
            assert_eq!(number(value), text, "{value}");
        }
    }

    #[test]
    fn text_cannot_break_out_of_its_element() {
        assert_eq!(escape("<script>\"&'\u{0}\u{1}"), "&lt;script&gt;&quot;&amp;&#39;");
    }

    #[test]
    fn wrapping_keeps_every_word() {
        let lines = wrap("one two three extraordinarily four", 9);
        assert_eq!(lines, ["one two", "three", "extraordinarily", "four"]);
    }
}
