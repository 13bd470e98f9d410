//! Every pair of finishes: log10 of the likelihood ratio with its interval.

use super::Figure;
use super::overview::WIDE;
use super::svg::{Anchor, Canvas, Ink, Pen, SMALL, TEXT, wrap};
use crate::dossier::{Pair, Weighing};
use crate::words;

/// Nearer end of an interval below which a pair is not told apart: half a decade. Our choice; the methods chapter states it.
pub(crate) const TOLD_APART_FROM: f64 = 0.5;

const ROW_LABEL: f64 = 118.0;
const ROW: f64 = 46.0;
const TOP: f64 = 74.0;

/// The end of a pair's interval that lies nearer to zero; zero where the interval reaches over it.
pub(crate) fn nearer_end(pair: &Pair) -> f64 {
    if pair.low > 0.0 {
        pair.low
    } else if pair.high < 0.0 {
        pair.high
    } else {
        0.0
    }
}

/// Matrix of pairs. A positive number supports the row's finish over the column's; grey deepens with the interval's nearer end.
#[must_use]
pub fn pairs_matrix(weighing: &Weighing) -> Figure {
    let title = "Pairs of finishes: log10 likelihood ratio";
    if weighing.pairs.is_empty() || weighing.finishes.len() < 2 {
        let why = weighing.cannot.clone().unwrap_or_else(|| "no pair of finishes was weighed".into());
        return super::empty(title, &words::sentence(&why));
    }
    let finishes = &weighing.finishes;
    let columns = finishes.len() - 1;
    let cell = ((WIDE - ROW_LABEL) / columns as f64).min(120.0);
    let mut canvas = Canvas::default();
    canvas.bold([4.0, 13.0], Anchor::Start, TEXT, title);
    let note = "+ supports the row over the column, − the column over the row; below it the 95 % interval; ≈ not told apart.";
    canvas.text_in([4.0, 28.0], Anchor::Start, SMALL, Ink::Mid, note);
    for (index, finish) in finishes.iter().take(columns).enumerate() {
        let x = ROW_LABEL + (index as f64 + 0.5) * cell;
        let lines = wrap(&finish.title, 13);
        for (line_index, line) in lines.iter().enumerate() {
            let y = TOP - 8.0 - (lines.len() - 1 - line_index) as f64 * 13.0;
            canvas.text([x, y], Anchor::Middle, SMALL, line);
        }
    }
    let mut spoken = Vec::new();
    for (row, finish) in finishes.iter().enumerate().skip(1) {
        let y = TOP + (row - 1) as f64 * ROW;
        canvas.text([ROW_LABEL - 8.0, y + ROW / 2.0 + 4.0], Anchor::End, SMALL, &finish.title);
        for (column, other) in finishes.iter().take(row).enumerate() {
            let corner = [ROW_LABEL + column as f64 * cell, y];
            match find(&weighing.pairs, &finish.name, &other.name) {
                Some(pair) => {
                    draw_cell(&mut canvas, corner, cell, &pair);
                    spoken.push(format!(
                        "{} over {}: {} ({} to {})",
                        finish.title,
                        other.title,
                        signed(pair.log10_lr),
                        signed(pair.low),
                        signed(pair.high)
                    ));
                }
                None => canvas.frame(corner, [cell, ROW], Pen::dotted(Ink::Mid, 0.6)),
            }
        }
    }
    let height = TOP + columns as f64 * ROW + 6.0;
    canvas.finish(title, format!("log10 likelihood ratios. {}.", spoken.join("; ")), WIDE, height)
}

/// The pair as `a` over `b`, turned round if it is listed the other way.
fn find(pairs: &[Pair], a: &str, b: &str) -> Option<Pair> {
    pairs.iter().find_map(|pair| match () {
        () if pair.a == a && pair.b == b => Some(pair.clone()),
        () if pair.a == b && pair.b == a => Some(turned(pair)),
        () => None,
    })
}

/// The same pair with `b` over `a`.
pub(crate) fn turned(pair: &Pair) -> Pair {
    Pair {
        a: pair.b.clone(),
        b: pair.a.clone(),
        log10_lr: -pair.log10_lr,
        low: -pair.high,
        high: -pair.low,
        words: pair.words.clone(),
    }
}

fn draw_cell(canvas: &mut Canvas, corner: [f64; 2], width: f64, pair: &Pair) {
    let near = nearer_end(pair);
    let ground = match near.abs() {
        near if near < TOLD_APART_FROM => Ink::Paper,
        near if near < 1.0 => Ink::Wash,
        _ => Ink::Faint,
    };
    canvas.rectangle(corner, [width, ROW], ground);
    canvas.frame(corner, [width, ROW], Pen::solid(Ink::Mid, 0.6));
    let middle = corner[0] + width / 2.0;
    let mark = if near.abs() < TOLD_APART_FROM { "≈ " } else { "" };
    let value = format!("{mark}{}", signed(pair.log10_lr));
    if mark.is_empty() {
        canvas.bold([middle, corner[1] + 20.0], Anchor::Middle, TEXT, &value);
    } else {
        canvas.text([middle, corner[1] + 20.0], Anchor::Middle, TEXT, &value);
    }
    let interval = format!("{} to {}", signed(pair.low), signed(pair.high));
    canvas.text([middle, corner[1] + 36.0], Anchor::Middle, SMALL, &interval);
}

/// One decimal with its sign, also `+`.
pub(crate) fn signed(value: f64) -> String {
    let text = super::plot::signed(value, 1);
    if text.starts_with('−') || value.abs() < 0.05 { text } else { format!("+{text}") }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn pair(a: &str, b: &str, log10_lr: f64, low: f64, high: f64) -> Pair {
        Pair { a: a.into(), b: b.into(), log10_lr, low, high, words: String::new() }
    }

    #[test]
    fn a_pair_can_be_read_both_ways() {
        let pairs = [pair("x", "y", 1.5, 0.75, 2.0)];
        let turned = find(&pairs, "y", "x").unwrap();
        assert_eq!((turned.log10_lr, turned.low, turned.high), (-1.5, -2.0, -0.75));
        assert_eq!(nearer_end(&turned), -0.75);
        assert!(find(&pairs, "x", "z").is_none());
    }

    #[test]
    fn an_interval_over_zero_has_no_nearer_end() {
        assert_eq!(nearer_end(&pair("x", "y", 0.4, -0.2, 1.0)), 0.0);
        assert_eq!(signed(-0.04), "0.0");
        assert_eq!(signed(1.26), "+1.3");
        assert_eq!(signed(-1.26), "−1.3");
    }
}
