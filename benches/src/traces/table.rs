//! The printed tables.

use super::peers::Peer;
use super::score::{BANDS, COUNTABLE_CNR, GROUNDS, Key, Tally, ratio};
use super::uncertainty::scatter;
use super::{Ours, Ready, STRICT};
use crate::traces::lay_of::{self, SetScore};
use quantity::AxialDeg;

/// One line per picture: scratches that count and their median contrast, traces, scores.
pub fn pictures(ready: &[Ready], ours: &[Ours]) {
    println!(
        "{:<46} {:>5} {:>5} {:>6} {:>5} {:>5} {:>5} {:>6} {:>5} {:>6} {:>6}",
        "picture", "true", "CNR", "traces", "P", "R", "F1", "false", "frag", "cov80", "cpu s"
    );
    for (r, o) in ready.iter().zip(ours) {
        let t = &o.tally;
        println!(
            "{:<46} {:>5} {:>5.2} {:>6} {:>5.2} {:>5.2} {:>5.2} {:>6} {:>5.2} {:>6.2} {:>6.2}{}",
            r.case.name,
            r.truth.scratches.iter().filter(|s| s.cnr >= COUNTABLE_CNR).count(),
            median_cnr(r),
            o.lines.len(),
            t.precision(),
            t.recall(),
            t.f1(),
            t.false_traces,
            ratio(t.fragments, t.met),
            ratio(t.covered, t.coverable),
            o.cpu_s,
            o.refused.as_ref().map(|why| format!("  refused: {why}")).unwrap_or_default()
        );
    }
}

/// Median contrast-to-noise ratio of the scratches on a picture.
fn median_cnr(ready: &Ready) -> f64 {
    let mut all: Vec<f64> = ready.truth.scratches.iter().map(|s| s.cnr).collect();
    all.sort_by(f64::total_cmp);
    all.get(all.len() / 2).copied().unwrap_or(f64::NAN)
}

/// One column of the table of bars.
struct Column {
    name: String,
    tally: Tally,
    sets: SetScore,
    cpu_s: f64,
    wall_s: Option<f64>,
    /// Standardised errors of direction and curvature.
    errors: Option<[Vec<f64>; 2]>,
}

/// The table of bars: ours at two settings, and the peers.
pub fn bars(ready: &[Ready], normal: &[Ours], strict: &[Ours], peers: &[Peer]) {
    let mut columns = vec![column("ours", normal), column(&format!("strict {STRICT}"), strict)];
    columns.extend(peers.iter().map(|p| peer_column(p, ready)));
    println!(
        "\nPooled over {} pictures, {:.1} MP. Match: 1-px samples, within 2 px and 5°.",
        ready.len(),
        columns[0].tally.megapixels
    );
    println!(
        "Recall: visible length of scratches with CNR ≥ 0.7; precision: found length on any true scratch.\n"
    );
    row("", &columns, |c| c.name.clone());
    row("precision", &columns, |c| two(c.tally.precision()));
    row("recall", &columns, |c| two(c.tally.recall()));
    row("F1", &columns, |c| format!("{:.3}", c.tally.f1()));
    let best = columns[2..].iter().map(|c| c.tally.f1()).fold(0.0, f64::max);
    if best > 0.0 {
        row("F1 over the best peer's", &columns, |c| two(c.tally.f1() / best));
    }
    for (k, low) in BANDS.iter().enumerate() {
        let name = BANDS
            .get(k + 1)
            .map_or(format!("recall, CNR > {low}"), |high| format!("recall, CNR {low}–{high}"));
        row(&name, &columns, |c| two(ratio(c.tally.bands[k][0], c.tally.bands[k][1])));
    }
    row("false traces ≥ 50 px per MP, bare stone", &columns, |c| {
        format!("{:.1}", c.tally.false_per_megapixel())
    });
    row("traces per true scratch", &columns, |c| two(ratio(c.tally.fragments, c.tally.met)));
    row("scratches ≥ 80 % in one trace", &columns, |c| percent(ratio(c.tally.covered, c.tally.coverable)));
    row("set direction within 1°", &columns, |c| percent(c.sets.shares()[0]));
    row("set direction within 2°", &columns, |c| percent(c.sets.shares()[1]));
    row("number of sets right", &columns, |c| percent(c.sets.shares()[2]));
    for (k, what) in ["direction", "curvature"].into_iter().enumerate() {
        let of = |c: &Column| c.errors.as_ref().map(|e| scatter(&e[k]));
        row(&format!("z of {what}: sd (within ±6)"), &columns, |c| of(c).map_or("–".into(), |s| two(s.sd)));
        row(&format!("z of {what}: mean"), &columns, |c| of(c).map_or("–".into(), |s| two(s.mean)));
        row(&format!("z of {what}: 95 % coverage"), &columns, |c| {
            of(c).map_or("–".into(), |s| percent(s.coverage_95))
        });
        row(&format!("z of {what}: beyond ±6, of n"), &columns, |c| {
            of(c).map_or("–".into(), |s| format!("{} of {}", percent(s.mistaken), s.count))
        });
    }
    row("processor s per MP", &columns, |c| two(c.cpu_s / c.tally.megapixels));
    row("wall s per MP", &columns, |c| c.wall_s.map_or("–".into(), |w| two(w / c.tally.megapixels)));
}

/// What false length lies on.
pub fn grounds(normal: &[Ours], strict: &[Ours]) {
    println!("\nFalse length by what lies under it (within 2 px), share of all false length");
    for (name, ours) in [("default", normal), ("strict", strict)] {
        let tally = sum(ours);
        let all: usize = tally.false_on.iter().sum();
        let shares: Vec<String> = GROUNDS
            .iter()
            .zip(tally.false_on)
            .map(|((g, _), n)| format!("{g} {}", two(ratio(n, all))))
            .collect();
        println!("{name:>8}: {}", shares.join("  "));
    }
}

fn sum(ours: &[Ours]) -> Tally {
    let mut all = Tally::default();
    ours.iter().for_each(|o| all.add(&o.tally));
    all
}

fn column(name: &str, ours: &[Ours]) -> Column {
    let mut sets = SetScore::default();
    ours.iter().filter_map(|o| o.sets.as_ref()).for_each(|s| sets.add(s));
    let errors = |of: fn(&super::Compared) -> f64| ours.iter().flat_map(|o| &o.compared).map(of).collect();
    Column {
        name: name.to_owned(),
        tally: sum(ours),
        sets,
        cpu_s: ours.iter().map(|o| o.cpu_s).sum(),
        wall_s: Some(ours.iter().map(|o| o.wall_s).sum()),
        errors: Some([errors(|c| c.direction), errors(|c| c.curvature)]),
    }
}

fn peer_column(peer: &Peer, ready: &[Ready]) -> Column {
    let (mut tally, mut sets) = (Tally::default(), SetScore::default());
    for (r, a) in ready.iter().zip(&peer.answers) {
        let key = Key::new(&r.truth, r.picture.grey.width(), r.picture.grey.height());
        tally.add(&key.score(&a.lines));
        if !r.case.laid_deg.is_empty() {
            let (axes, lengths) = axes(&a.lines);
            sets.add(&lay_of::compare(&axes, &lengths, &r.case.laid_deg, &r.truth));
        }
    }
    Column {
        name: peer.name.clone(),
        tally,
        sets,
        cpu_s: peer.answers.iter().map(|a| a.cpu_s).sum(),
        wall_s: None,
        errors: None,
    }
}

fn axes(lines: &[Vec<[f64; 2]>]) -> (Vec<AxialDeg>, Vec<f64>) {
    lines
        .iter()
        .filter_map(|l| {
            let (a, b) = (l.first()?, l.last()?);
            let axis = AxialDeg::from_pixel_step(b[0] - a[0], b[1] - a[1])?;
            Some((axis, (b[0] - a[0]).hypot(b[1] - a[1])))
        })
        .unzip()
}

fn row(name: &str, columns: &[Column], cell: impl Fn(&Column) -> String) {
    let cells: Vec<String> = columns.iter().map(|c| format!("{:>22}", cell(c))).collect();
    println!("{name:<42}{}", cells.join(""));
}

fn two(value: f64) -> String {
    if value.is_finite() { format!("{value:.2}") } else { "–".into() }
}

fn percent(share: f64) -> String {
    if share.is_finite() { format!("{:.0} %", 100.0 * share) } else { "–".into() }
}
