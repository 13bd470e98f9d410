//! Prints the bars of the weighing: `weigh [objects per finish] [test objects per finish] [only]`.
//!
//! `only` keeps the rows whose name contains it, as in `weigh 3000 500 "6 mm"`. Other measurements by name:
//! `weigh captures FOLDER [number]` renders captures (those already there stay) and traces them anew; on these
//! `weigh detect FOLDER` measures the tracer and prints `weigh::tracer::Tracer::MEASURED`, `weigh unlike FOLDER` lists the
//! observables by how much simulated tracings of the same strokes differ, `weigh pixels FOLDER [objects per finish]` weighs.
//! `weigh crossings [of each kind]` tries to read the order of crossing scratches, `weigh speed [objects per finish]` takes the
//! time of a whole weighing.

mod captures;
mod chance;
mod crossings;
mod detect;
mod fates;
mod pixels;
mod regress;
mod speed;
mod strangers;
mod tests;
mod unlike;

use finish::models::{Draw, Region};
use std::time::Instant;
use strangers::Stranger;
use weigh::geometry::Geometry;
use weigh::{Engine, Options};

/// Pixels across every test field (the study's).
const WIDTH_PX: f64 = 2592.0;

struct Bench {
    objects: usize,
    tests: usize,
    only: String,
}

fn main() {
    let args: Vec<String> = std::env::args().skip(1).collect();
    let number =
        |index: usize, usual: usize| args.get(index).and_then(|text| text.parse().ok()).unwrap_or(usual);
    let folder = args.get(1).map_or("", String::as_str);
    let other = match args.first().map(String::as_str) {
        Some("captures") => Some(captures::run(folder, number(2, 420))),
        Some("detect") => Some(detect::run(folder)),
        Some("unlike") => Some(unlike::run(folder)),
        Some("crossings") => Some(crossings::run(number(1, 90))),
        Some("speed") => Some(speed::run(number(1, 2000))),
        Some("pixels") => Some(pixels::run(folder, number(2, 2000))),
        _ => None,
    };
    if let Some(outcome) = other {
        if let Err(failed) = outcome {
            eprintln!("{failed}");
            std::process::exit(1);
        }
        return;
    }
    let bench = Bench {
        objects: number(0, 3000),
        tests: number(1, 500),
        only: args.get(2).cloned().unwrap_or_default(),
    };
    println!("objects per finish {}, test objects per finish {}", bench.objects, bench.tests);
    println!("| what | bar | found |\n|---|---|---|");
    bench.shifted(3.0, 4, "≤ 0.10, ≤ 0.01");
    bench.shifted(6.0, 4, "≤ 0.06, ≤ 0.006");
    bench.small(1);
    bench.small(12);
    bench.twelve();
    bench.one_field();
}

impl Bench {
    fn engine(&self, width_mm: f64, fields: usize, what: &str) -> Option<(Engine, Geometry)> {
        let name = format!("{width_mm} mm × {fields}");
        if !format!("{name} {what}").contains(&self.only) {
            return None;
        }
        let geometry = Geometry::equal(fields, 2, width_mm, WIDTH_PX);
        let options = Options { objects_per_finish: self.objects, sensitivity: false, ..Options::default() };
        let start = Instant::now();
        let simulated = std::sync::Mutex::new(0.0);
        let watch = |share: f64| {
            if share <= 0.7501
                && let Ok(mut seconds) = simulated.lock()
            {
                *seconds = start.elapsed().as_secs_f64();
            }
            true
        };
        let engine = Engine::for_geometry(&geometry, &options, &watch).ok()?;
        let simulated = simulated.into_inner().unwrap_or(0.0);
        println!(
            "| {name}: simulation; all | ≤ 20 s; ≤ 60 s | {simulated:.0} s; {:.0} s |",
            start.elapsed().as_secs_f64()
        );
        Some((engine, geometry))
    }

    fn shifted(&self, width_mm: f64, fields: usize, bar: &str) {
        let Some((engine, geometry)) = self.engine(width_mm, fields, "shifted") else { return };
        let name = format!("{width_mm} mm × {fields}");
        for (letter, region) in [("A", Region::Narrow), ("B", Region::Shifted)] {
            let found = tests::outcome(&engine, &tests::region(&geometry, region, self.tests));
            println!(
                "| W→{letter}, {name}: log loss, ECE (what chance leaves if it is right) | {} | {:.3}, {:.3} ({:.3}) |",
                if letter == "B" { bar } else { "–" },
                found.loss,
                found.ece,
                found.chance_ece
            );
            self.ratios(&format!("W→{letter}, {name}"), "≤ 2 %", &found);
        }
        self.misspecified(&engine, &geometry, &name);
    }

    fn misspecified(&self, engine: &Engine, geometry: &Geometry, name: &str) {
        let beyond = tests::outcome(engine, &tests::region(geometry, Region::Beyond, self.tests));
        self.ratios(&format!("D (beyond the priors), {name}"), "≤ 2 %", &beyond);
        for (words, region) in [("D, other seed", Region::Beyond), ("lower end and below", Region::Under)] {
            let set = tests::other_drawn(geometry, Draw::from_region(region), self.tests);
            self.ratios(&format!("{words}, {name}"), "≤ 2 %", &tests::outcome(engine, &set));
        }
        let study = tests::outcome(engine, &tests::study_matched(geometry, self.tests));
        self.ratios(&format!("E (matched), {name}"), "≤ 2 %", &study);
        let second = tests::outcome(engine, &tests::second_matched(geometry, self.tests));
        self.ratios(&format!("second matched stratum, {name}"), "≤ 5 %", &second);
    }

    fn ratios(&self, name: &str, bar: &str, found: &tests::Outcome) {
        println!(
            "| {name}: log10 LR ≥ 1 for the wrong one, worst pair (any rival; flagged) | {bar} | {:.1} % {} ({:.1} %; {:.1} %) |",
            100.0 * found.wrong_ten,
            found.worst_pair,
            100.0 * found.wrong_ten_any,
            100.0 * found.flagged,
        );
        println!(
            "| {name}: log10 LR ≥ 2 for the wrong one; power left (≥ 1 for the right one) | ≤ 0.5 % | {:.2} %; {:.0} % |",
            100.0 * found.wrong_hundred,
            100.0 * found.right_ten,
        );
    }

    fn small(&self, fields: usize) {
        let Some((engine, geometry)) = self.engine(0.5, fields, "small") else { return };
        for (letter, region) in [("A", Region::Narrow), ("B", Region::Shifted)] {
            let found = tests::outcome(&engine, &tests::region(&geometry, region, self.tests));
            println!(
                "| 0.5 mm × {fields}, {letter}: not told apart; worst Cllr | ≥ 90 %; ≤ 1.02 | {:.0} %; {:.3} |",
                100.0 * found.silent,
                found.worst_cllr,
            );
            self.ratios(&format!("0.5 mm × {fields}, {letter}"), "–", &found);
        }
    }

    fn twelve(&self) {
        let Some((engine, geometry)) = self.engine(12.0, 4, "twelve") else { return };
        self.misspecified(&engine, &geometry, "12 mm × 4");
        self.strangers(&engine, &geometry, "12 mm × 4");
    }

    fn one_field(&self) {
        let Some((engine, geometry)) = self.engine(3.0, 1, "one field") else { return };
        self.misspecified(&engine, &geometry, "3 mm × 1");
        self.strangers(&engine, &geometry, "3 mm × 1");
    }

    fn strangers(&self, engine: &Engine, geometry: &Geometry, name: &str) {
        let wide = tests::region(geometry, Region::Wide, self.tests);
        let (flagged, _) = tests::flagged_and_bold(engine, &wide.rows);
        println!("| none fits, {name}: false alarm on W | ≤ 5 % | {:.1} % |", 100.0 * flagged);
        let kinds = [
            ("saw arcs", Stranger::SawArcs, 90),
            ("wandering", Stranger::Wandering, 80),
            ("toothed", Stranger::Toothed, 99),
        ];
        for (words, kind, bar) in kinds {
            let rows = tests::strangers(geometry, kind, self.tests);
            self.stranger_row(engine, name, words, bar, &rows);
        }
        self.stranger_row(engine, name, "two stages", 50, &tests::two_stages(geometry, self.tests));
    }

    fn stranger_row(
        &self,
        engine: &Engine,
        name: &str,
        words: &str,
        bar: usize,
        rows: &[weigh::observables::Row],
    ) {
        let (flagged, bold) = tests::flagged_and_bold(engine, rows);
        println!(
            "| none fits, {name}: {words} flagged; a finish given log10 LR ≥ 2 | ≥ {bar} %; ≤ 2 % | {:.0} %; {:.1} % |",
            100.0 * flagged,
            100.0 * bold,
        );
    }
}
