//! What these pictures cannot tell, worked out from the dossier, and what to do about each gap next time.

mod station;

use crate::document::anchor;
use crate::dossier::{Capture, Dossier, Reading, Verdict};
use crate::findings::title_of;
use crate::words;

/// Traces below which a lay is a guess: in simulations ten to twenty measured traces carried nearly all there was to know.
pub(crate) const FEW_TRACES: usize = 20;

/// Share of suspects from which the rock's own lines may rule the picture. Our choice.
const MANY_SUSPECTS: f64 = 0.3;

/// One gap.
#[derive(Debug, Clone, PartialEq)]
pub struct Limit {
    /// What it is about where several things are described: `Station A (north rim)`; empty otherwise.
    pub about: String,
    /// What cannot be told, and which number says so.
    pub text: String,
    /// What would close the gap; `None` where nothing on the next visit would.
    pub remedy: Option<String>,
    /// Anchors of figures and tables that show it.
    pub rests_on: Vec<String>,
}

/// Every gap that the numbers of a dossier show.
#[must_use]
pub fn limits(dossier: &Dossier) -> Vec<Limit> {
    let captures: Vec<&Capture> = dossier.stations.iter().flat_map(|station| &station.captures).collect();
    let mut limits = vec![];
    if captures.is_empty() {
        limits.push(Limit {
            about: String::new(),
            text: "Anything about the surface: there are no micrographs.".into(),
            remedy: Some(
                "Take micrographs at several stations, with a photographed graduation at the same setting."
                    .into(),
            ),
            rests_on: vec![],
        });
    }
    limits.extend(scale(&captures));
    limits.extend(quality(&captures));
    limits.extend(light(&captures));
    for station in &dossier.stations {
        limits.extend(station::of_station(station));
    }
    limits.extend(between_stations(dossier));
    limits.extend(suspects(&captures));
    limits.extend(false_traces(&captures));
    limits.extend(stages(dossier));
    limits.extend(weighing(dossier));
    for chapter in [&dossier.form, &dossier.stone].into_iter().flatten() {
        limits.extend(chapter.cannot_tell.iter().map(|text| Limit {
            about: String::new(),
            text: words::sentence(text),
            remedy: None,
            rests_on: vec![],
        }));
    }
    if !dossier.provenance.failures.is_empty() {
        let text = format!(
            "What {} that could not be read would have shown; the provenance chapter names them.",
            words::count(dossier.provenance.failures.len(), "file")
        );
        limits.push(Limit {
            about: String::new(),
            text,
            remedy: Some("Send or export these files again.".into()),
            rests_on: vec![],
        });
    }
    limits
}

/// What to do next, each once, in the order of the gaps.
pub(crate) fn remedies(limits: &[Limit]) -> Vec<String> {
    let mut remedies: Vec<String> = vec![];
    for remedy in limits.iter().filter_map(|limit| limit.remedy.as_ref()) {
        if !remedies.contains(remedy) {
            remedies.push(remedy.clone());
        }
    }
    remedies
}

/// `A1, A2 and B1`, cut where there are many.
fn labels(captures: &[&Capture]) -> String {
    const SHOWN: usize = 8;
    let mut labels: Vec<String> = captures.iter().take(SHOWN).map(|capture| capture.label.clone()).collect();
    if captures.len() > SHOWN {
        labels.push(format!("{} more", captures.len() - SHOWN));
    }
    words::list(&labels)
}

fn captures_table() -> Vec<String> {
    vec!["table-captures".into()]
}

fn scale(captures: &[&Capture]) -> Vec<Limit> {
    let without: Vec<&Capture> = captures.iter().copied().filter(|capture| capture.scale.is_none()).collect();
    if without.is_empty() {
        return vec![];
    }
    let nominal = without.iter().filter(|capture| capture.nominal_magnification.is_some()).count();
    let nominal =
        if nominal > 0 { " A nominal magnification is written down, but it is no scale." } else { "" };
    vec![Limit {
        about: String::new(),
        text: format!(
            "Any length, width, spacing, density or radius in micrometres or millimetres for {}: no scale is known.{nominal}",
            labels(&without)
        ),
        remedy: Some("Photograph a graduation at the very same setting, or set the scale from two points a known distance apart.".into()),
        rests_on: captures_table(),
    }]
}

fn quality(captures: &[&Capture]) -> Vec<Limit> {
    let of = |chosen: &dyn Fn(&Capture) -> bool| -> Vec<&Capture> {
        captures.iter().copied().filter(|capture| chosen(capture)).collect()
    };
    let not_usable = of(&|capture| capture.quality.verdict == Verdict::NotUsable);
    let refused = of(&|capture| capture.quality.verdict != Verdict::NotUsable && capture.refused.is_some());
    let with_care =
        of(&|capture| capture.quality.verdict == Verdict::UsableWithCare && capture.refused.is_none());
    let mut limits = vec![];
    limits
        .extend(group(&not_usable, "Anything from", "not usable", |capture| capture.quality.reasons.clone()));
    limits.extend(group(&refused, "Anything from", "no traces reported", |capture| {
        capture.refused.clone().into_iter().collect()
    }));
    if !with_care.is_empty() {
        limits.push(Limit {
            about: String::new(),
            text: format!(
                "How far to trust {}: usable with care only, each for the reasons that stand beside it.",
                labels(&with_care)
            ),
            remedy: None,
            rests_on: captures_table(),
        });
    }
    if let Some(limit) = limits.first_mut().filter(|_| !not_usable.is_empty()) {
        limit.remedy = Some(format!("Take {} again.", labels(&not_usable)));
    }
    limits
}

/// One gap for all captures of one verdict, with the reasons of the first few.
fn group(
    captures: &[&Capture],
    start: &str,
    verdict: &str,
    reasons: impl Fn(&Capture) -> Vec<String>,
) -> Option<Limit> {
    const REASONS_SHOWN: usize = 6;
    let mut each: Vec<String> = captures
        .iter()
        .take(REASONS_SHOWN)
        .map(|capture| format!("{}: {}", capture.label, words::list(&reasons(capture))))
        .collect();
    if captures.len() > REASONS_SHOWN {
        each.push("the others: see their pages".into());
    }
    let figures =
        captures.iter().take(REASONS_SHOWN).map(|capture| anchor(&["fig", "picture", &capture.label]));
    (!captures.is_empty()).then(|| Limit {
        about: String::new(),
        text: format!("{start} {} ({verdict}; {}).", labels(captures), each.join("; ")),
        remedy: None,
        rests_on: figures.collect(),
    })
}

fn light(captures: &[&Capture]) -> Vec<Limit> {
    let mut limits = vec![];
    let unknown: Vec<&Capture> =
        captures.iter().copied().filter(|capture| capture.light == picture::Light::Unknown).collect();
    if !unknown.is_empty() {
        limits.push(Limit {
            about: String::new(),
            text: format!(
                "Whether the light hid a direction on {}: where it came from is not recorded, so a missing direction means nothing.",
                labels(&unknown)
            ),
            remedy: Some("Write down where the light comes from for every picture, or mark it on the object’s edge in the frame.".into()),
            rests_on: captures_table(),
        });
    }
    limits
}

fn between_stations(dossier: &Dossier) -> Vec<Limit> {
    let described = dossier.stations.iter().filter(|station| station.described().is_some()).count();
    let mut limits = vec![];
    if !dossier.stations.is_empty() && described < 2 {
        limits.push(Limit {
            about: String::new(),
            text: "Whether the same marks run over the whole object: fewer than two stations have traces that count.".into(),
            remedy: Some(
                "Choose at least three stations far apart, by a rule fixed beforehand rather than by what looks good.".into(),
            ),
            rests_on: vec![],
        });
    }
    if let Some(comparison) = &dossier.comparison {
        for test in &comparison.tests {
            let found = test.p_adjusted.is_some_and(|p| p < comparison.level);
            let Some(note) = test.note.as_ref().filter(|_| !found) else { continue };
            limits.push(Limit {
                about: String::new(),
                text: words::sentence(&format!("Whether the stations differ in {}: {note}", test.property)),
                remedy: Some("Take more micrographs at every station: the stations are compared by captures, not by traces.".into()),
                rests_on: vec!["table-comparison".into()],
            });
        }
    }
    limits
}

fn suspects(captures: &[&Capture]) -> Option<Limit> {
    let all: usize = captures.iter().map(|capture| capture.traces.len()).sum();
    let suspect = captures
        .iter()
        .flat_map(|capture| &capture.traces)
        .filter(|shown| shown.reading == Reading::Suspect)
        .count();
    if all == 0 || (suspect as f64) < MANY_SUSPECTS * all as f64 {
        return None;
    }
    Some(Limit {
        about: String::new(),
        text: format!(
            "Which of the lines are scratches: {} of {} may be lamellae, grain edges or artefacts.",
            words::percent(suspect as f64 / all as f64),
            words::count(all, "trace")
        ),
        remedy: Some("Photograph an unworked or broken face of the same rock at the same setting, to see what the rock draws by itself.".into()),
        rests_on: captures_table(),
    })
}

fn false_traces(captures: &[&Capture]) -> Option<Limit> {
    let measured: Vec<&&Capture> = captures
        .iter()
        .filter(|capture| capture.quality.verdict != Verdict::NotUsable && capture.refused.is_none())
        .collect();
    let expected: f64 = measured.iter().filter_map(|capture| capture.expected_false).sum();
    let counted: usize = measured.iter().map(|capture| capture.accepted().count()).sum();
    if counted == 0 || expected <= 0.0 {
        return None;
    }
    Some(Limit {
        about: String::new(),
        text: format!(
            "Which of the {} are false: the finder was set so that about {} of them are to be expected over all pictures.",
            words::count(counted, "counted trace"),
            words::significant(expected, 2)
        ),
        remedy: None,
        rests_on: captures_table(),
    })
}

fn stages(dossier: &Dossier) -> Option<Limit> {
    let counted = dossier
        .stations
        .iter()
        .flat_map(|station| &station.captures)
        .any(|capture| capture.accepted().next().is_some());
    counted.then(|| Limit {
        about: String::new(),
        text: "Whether all counted marks belong to one stage of work: which trace lies over which was not assessed, and later wear \
               or cleaning may lie over earlier work."
            .into(),
        remedy: None,
        rests_on: vec![],
    })
}

fn weighing(dossier: &Dossier) -> Vec<Limit> {
    let Some(weighing) = &dossier.weighing else { return vec![] };
    let pairs = vec!["fig-pairs".to_owned()];
    let mut limits: Vec<Limit> = weighing
        .cannot_tell_apart
        .iter()
        .map(|group| {
            let names: Vec<String> = group.names.iter().map(|name| title_of(weighing, name)).collect();
            Limit {
                about: String::new(),
                text: format!(
                    "Which of {} left the marks: {}.",
                    words::list(&names),
                    group.why.trim_end_matches('.')
                ),
                remedy: None,
                rests_on: pairs.clone(),
            }
        })
        .collect();
    if let Some(why) = &weighing.cannot {
        limits.push(Limit {
            about: String::new(),
            text: format!("Which way of finishing left the marks: it cannot be weighed because {why}."),
            remedy: None,
            rests_on: vec![],
        });
    }
    limits
}
