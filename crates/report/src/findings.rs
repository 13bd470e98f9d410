//! Sentences of the report, each with the figures and tables it rests on: observed, computed, inferred.
//!
//! The wording never says more than the marks present, never who or when, and says nothing about straightness without the reach.

use crate::document::anchor;
use crate::dossier::{
    Dossier, Lay, Pair, Reading, SpacingVerdict, Station, StraightnessVerdict, Verdict, Weighing,
};
use crate::figures::{TOLD_APART_FROM, nearer_end, signed_ratio, turned};
use crate::words;

/// How far a sentence goes beyond the pictures.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Kind {
    /// Counted or seen on the pictures.
    Observed,
    /// Follows from the traces by a stated method.
    Computed,
    /// Goes beyond the numbers and could be wrong although they are right.
    Inferred,
}

/// One sentence of the report.
#[derive(Debug, Clone, PartialEq)]
pub struct Finding {
    /// How far it goes.
    pub kind: Kind,
    /// What it is about where several things are described: `Station A (north rim)`; empty otherwise.
    pub about: String,
    /// The sentence.
    pub text: String,
    /// Anchors of the figures and tables it rests on.
    pub rests_on: Vec<String>,
}

impl Finding {
    fn new(kind: Kind, text: impl Into<String>, rests_on: &[String]) -> Self {
        Self { kind, about: String::new(), text: words::sentence(&text.into()), rests_on: rests_on.to_vec() }
    }

    fn about(self, about: &str) -> Self {
        Self { about: about.to_owned(), ..self }
    }
}

/// Everything the numbers of a dossier support, in the order observed, computed, inferred.
#[must_use]
pub fn findings(dossier: &Dossier) -> Vec<Finding> {
    let mut findings = observed(dossier);
    for station in &dossier.stations {
        if let Some(lay) = station.described() {
            findings.extend(of_lay(&station_words(station), &station.label, lay));
        }
    }
    findings.extend(comparison(dossier));
    findings.extend(inferred(dossier));
    for chapter in [&dossier.form, &dossier.stone].into_iter().flatten() {
        let kinds = [
            (Kind::Observed, &chapter.observed),
            (Kind::Computed, &chapter.computed),
            (Kind::Inferred, &chapter.inferred),
        ];
        for (kind, sentences) in kinds {
            findings.extend(sentences.iter().map(|sentence| Finding::new(kind, sentence, &[])));
        }
    }
    findings.sort_by_key(|finding| finding.kind as u8);
    findings
}

/// `Station A`, with its name where it has one.
pub(crate) fn station_words(station: &Station) -> String {
    if station.name.is_empty() {
        format!("Station {}", station.label)
    } else {
        format!("Station {} ({})", station.label, station.name)
    }
}

fn observed(dossier: &Dossier) -> Vec<Finding> {
    let captures: Vec<_> = dossier.stations.iter().flat_map(|station| &station.captures).collect();
    if captures.is_empty() {
        return vec![Finding::new(Kind::Observed, "There are no micrographs, so nothing was measured", &[])];
    }
    let of_verdict = |verdict| captures.iter().filter(|capture| capture.quality.verdict == verdict).count();
    let (care, not_usable) = (of_verdict(Verdict::UsableWithCare), of_verdict(Verdict::NotUsable));
    let mut text = format!(
        "{} at {} {} examined",
        words::count(captures.len(), "micrograph"),
        words::count(dossier.stations.len(), "station"),
        if captures.len() == 1 { "was" } else { "were" },
    );
    if care > 0 {
        text += &format!("; {care} can be used with care only");
    }
    if not_usable > 0 {
        text += &format!(
            "; {not_usable} cannot be used and {} no statistic",
            if not_usable == 1 { "enters" } else { "enter" }
        );
    }
    let table = ["table-captures".to_owned()];
    let mut findings = vec![Finding::new(Kind::Observed, text, &table)];
    let of_reading = |reading| -> usize {
        captures
            .iter()
            .map(|capture| capture.traces.iter().filter(|shown| shown.reading == reading).count())
            .sum()
    };
    let (accepted, suspect, rejected) =
        (of_reading(Reading::Accepted), of_reading(Reading::Suspect), of_reading(Reading::Rejected));
    let mut text =
        format!("{} {} counted", words::count(accepted, "trace"), if accepted == 1 { "is" } else { "are" });
    if suspect > 0 {
        text += &format!(
            "; {} more may be lines of the rock or of the camera and do not count",
            words::thousands(suspect as u64)
        );
    }
    if rejected > 0 {
        text += &format!(
            "; {} {} rejected by the examiner",
            words::thousands(rejected as u64),
            if rejected == 1 { "was" } else { "were" }
        );
    }
    findings.push(Finding::new(Kind::Observed, text, &table));
    findings
}

/// Sentences on one lay. `who` is what they are about, `label` finds their figures.
fn of_lay(who: &str, label: &str, lay: &Lay) -> Vec<Finding> {
    let figure = |kind: &str| vec![anchor(&["fig", kind, label])];
    let mut findings = vec![Finding::new(Kind::Computed, direction_words(lay), &figure("rose"))];
    if let Some(straightness) = &lay.straightness {
        findings.push(Finding::new(Kind::Computed, straightness_words(straightness), &figure("bow")));
    }
    if let Some(mean) = lay.stroke_length.as_ref().and_then(|stroke| Some((stroke, stroke.mean?))) {
        let (stroke, mean) = mean;
        let text = format!(
            "marks can be followed over {}{} in the mean, the edge of the field allowed for; {} of {} have both ends in the field. \
             Where a mark fades or breaks before its stroke ends, the stroke was longer",
            if words::is_loose(mean) { "poorly known: " } else { "" },
            words::interval(mean, stroke.unit.symbol()),
            words::thousands(stroke.ends.both_inside as u64),
            words::count(stroke.ends.total(), "trace"),
        );
        findings.push(Finding::new(Kind::Computed, text, &figure("stroke")));
    }
    for (index, spacing) in lay.spacings.iter().enumerate() {
        let verdict = match spacing.verdict {
            SpacingVerdict::Regular => "are spaced more regularly than places thrown at random",
            SpacingVerdict::Random => "are spaced as places thrown at random would be",
            SpacingVerdict::Clustered => "lie in clusters",
            SpacingVerdict::CannotTell => continue,
        };
        let mean = spacing
            .mean
            .map(|mean| {
                let known = if words::is_loose(mean) { "poorly known: " } else { "" };
                format!(", mean distance {known}{}", words::interval(mean, spacing.unit.symbol()))
            })
            .unwrap_or_default();
        let p = spacing.p.map(|p| format!(" ({})", words::p_value(p))).unwrap_or_default();
        let text = format!("traces of the set at {:.0}° {verdict}{p}{mean}", spacing.direction.degrees());
        findings.push(Finding::new(
            Kind::Computed,
            text,
            &[anchor(&["fig", "spacing", label, &index.to_string()])],
        ));
    }
    if let Some((widths, median)) = lay.widths.as_ref().and_then(|widths| Some((widths, widths.median?))) {
        let text =
            format!("the median width of the traces is {}", words::interval(median, widths.unit.symbol()));
        findings.push(Finding::new(Kind::Computed, text, &figure("width")));
    }
    findings.into_iter().map(|finding| finding.about(who)).collect()
}

/// The sets and their crossing in one clause.
pub(crate) fn direction_words(lay: &Lay) -> String {
    let p = words::p_value(lay.uniform_p);
    let each: Vec<String> = lay
        .sets
        .iter()
        .map(|set| {
            let half = set
                .half_width_95_deg
                .map(|half| format!(" ± {}", words::half_angle(half)))
                .unwrap_or_default();
            format!("{:.1}°{half} ({})", set.direction.degrees(), words::percent(set.share))
        })
        .collect();
    let found = match each.len() {
        0 => {
            return format!(
                "no set of parallel traces stands out among {} ({p} for all directions alike)",
                words::count(lay.directions.len(), "trace")
            );
        }
        1 => format!("the traces have one lay at {}, 95 % interval", words::list(&each)),
        number => format!("the traces lie in {number} sets at {}, 95 % intervals", words::list(&each)),
    };
    let crossing = lay
        .crossing_deg
        .map(|crossing| {
            let two = if lay.sets.len() > 2 { "the two largest cross" } else { "they cross" };
            format!(
                "; {two} at {:.1}° (95 % interval {:.1}° to {:.1}°)",
                crossing.value, crossing.low, crossing.high
            )
        })
        .unwrap_or_default();
    format!("{found}{crossing} ({p} for all directions alike)")
}

/// What the bows say, always with the reach.
pub(crate) fn straightness_words(straightness: &crate::dossier::Straightness) -> String {
    let unit = straightness.unit.symbol();
    let reach = match (straightness.reach, &straightness.limited_by) {
        (Some(reach), Some(limit)) => {
            format!("the reach is {} {unit}, limited by {limit}", words::significant(reach, 2))
        }
        (Some(reach), None) => format!("the reach is {} {unit}", words::significant(reach, 2)),
        (None, _) => "the reach is not known".to_owned(),
    };
    let radius = straightness.radius().map(|radius| {
        format!(
            "half of them have a radius below {} {unit} (95 % interval {} to {} {unit}), {}",
            words::significant(radius.value, 2),
            words::significant(radius.low, 2),
            words::significant(radius.high, 2),
            side_words(straightness)
        )
    });
    match (straightness.verdict(), radius) {
        (StraightnessVerdict::Bowed, Some(radius)) => {
            format!("the traces are bowed beyond what noise, waviness and lens explain: {radius}; {reach}")
        }
        (StraightnessVerdict::NotToldFromStraight, Some(radius)) => format!(
            "the traces cannot be told from straight lines: {radius}, but {reach}, and lens, tilt or waviness could draw bows of \
             larger radius"
        ),
        (StraightnessVerdict::NotToldFromStraight, None) => format!(
            "the traces cannot be told from straight lines; {reach}, so any larger radius would look the same"
        ),
        _ => format!("whether the traces are straight cannot be said; {reach}"),
    }
}

/// Whether traces bend one way or either way.
fn side_words(straightness: &crate::dossier::Straightness) -> &'static str {
    match straightness.middle {
        Some(middle) if middle.low > 0.0 || middle.high < 0.0 => "bent mostly to one side",
        _ => "bent to either side",
    }
}

fn comparison(dossier: &Dossier) -> Vec<Finding> {
    let Some(comparison) = &dossier.comparison else { return vec![] };
    let table = ["table-comparison".to_owned(), "fig-stations".to_owned()];
    let (mut differ, mut alike) = (vec![], vec![]);
    for test in &comparison.tests {
        match test.p_adjusted {
            Some(p) if p < comparison.level => {
                differ.push(format!("{} ({})", test.property, words::p_value(p)))
            }
            Some(p) => alike.push(format!("{} ({})", test.property, words::p_value(p))),
            None => {}
        }
    }
    let mut findings = vec![];
    if !differ.is_empty() {
        findings.push(Finding::new(
            Kind::Computed,
            format!("The stations differ in {}", words::list(&differ)),
            &table,
        ));
    }
    if !alike.is_empty() {
        let text = format!(
            "No difference between the stations was found in {}; that is not evidence that there is none",
            words::list(&alike)
        );
        findings.push(Finding::new(Kind::Computed, text, &table));
    }
    findings
}

fn inferred(dossier: &Dossier) -> Vec<Finding> {
    let mut findings = vec![];
    if let Some(weighing) = &dossier.weighing {
        findings.extend(of_weighing(weighing));
    }
    for station in &dossier.stations {
        let Some(widths) = station.described().and_then(|lay| lay.widths.as_ref()) else { continue };
        if let (Some((low, high)), Some(relation)) = (widths.grain_um, &widths.grain_relation) {
            let text = format!(
                "widths like these fit grains of {} to {} µm if {relation}",
                words::significant(low, 2),
                words::significant(high, 2)
            );
            let finding = Finding::new(Kind::Inferred, text, &[anchor(&["fig", "width", &station.label])]);
            findings.push(finding.about(&station_words(station)));
        }
    }
    findings
}

/// Sentences of a weighing: what cannot be told apart first.
fn of_weighing(weighing: &Weighing) -> Vec<Finding> {
    let pairs = ["fig-pairs".to_owned()];
    if let Some(why) = &weighing.cannot {
        return vec![Finding::new(
            Kind::Inferred,
            format!("The finishes cannot be weighed because {why}"),
            &[],
        )];
    }
    let mut findings: Vec<Finding> = weighing
        .cannot_tell_apart
        .iter()
        .map(|group| {
            let names: Vec<String> = group.names.iter().map(|name| title_of(weighing, name)).collect();
            let text = format!("These pictures cannot tell {} apart: {}", words::list(&names), group.why);
            Finding::new(Kind::Inferred, text, &pairs)
        })
        .collect();
    if let Some(none_fits) = weighing.none_fits.as_ref().filter(|none_fits| none_fits.flagged) {
        let text = format!(
            "None of the modelled finishes fits the marks present ({}): {}; the ratios below then compare finishes that are all wrong",
            words::p_value(none_fits.p),
            none_fits.because
        );
        findings.push(Finding::new(Kind::Inferred, text, &pairs));
    }
    let mut told: Vec<&Pair> =
        weighing.pairs.iter().filter(|pair| nearer_end(pair).abs() >= TOLD_APART_FROM).collect();
    told.sort_by(|a, b| nearer_end(b).abs().total_cmp(&nearer_end(a).abs()));
    let more = told.len().saturating_sub(SENTENCES_ON_PAIRS);
    for pair in told.iter().take(SENTENCES_ON_PAIRS) {
        findings.push(Finding::new(Kind::Inferred, pair_words(weighing, pair), &pairs));
    }
    if more > 0 {
        let text = format!(
            "{} more {} told apart; the weighing chapter lists them",
            more,
            if more == 1 { "pair is" } else { "pairs are" }
        );
        findings.push(Finding::new(Kind::Inferred, text, &pairs));
    }
    if told.is_empty() {
        let text = "No pair of finishes is told apart by these pictures";
        findings.push(Finding::new(Kind::Inferred, text, &pairs));
    }
    findings
}

/// Pairs that get a sentence of their own; the matrix shows all.
const SENTENCES_ON_PAIRS: usize = 5;

/// `The marks present support a over b`, with the ratio and its words.
fn pair_words(weighing: &Weighing, pair: &Pair) -> String {
    let pair = favoured_first(pair);
    let scale = if pair.words.is_empty() { String::new() } else { format!(": {}", pair.words) };
    format!(
        "The marks present support ‘{}’ over ‘{}’ (log10 likelihood ratio {}, 95 % interval {} to {}{scale})",
        title_of(weighing, &pair.a),
        title_of(weighing, &pair.b),
        signed_ratio(pair.log10_lr),
        signed_ratio(pair.low),
        signed_ratio(pair.high),
    )
}

/// The pair turned so that its ratio is not negative.
pub(crate) fn favoured_first(pair: &Pair) -> Pair {
    if pair.log10_lr >= 0.0 { pair.clone() } else { turned(pair) }
}

/// The name for people of a finish.
pub(crate) fn title_of(weighing: &Weighing, name: &str) -> String {
    weighing
        .finishes
        .iter()
        .find(|finish| finish.name == name)
        .map_or_else(|| name.to_owned(), |finish| finish.title.clone())
}
