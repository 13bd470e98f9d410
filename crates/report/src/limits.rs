//! What these pictures cannot tell, worked out from the dossier, and what to do about each gap next time.

use crate::document::anchor;
use crate::dossier::{Capture, Dossier, LengthUnit, Reading, Station, StraightnessVerdict, Verdict};
use crate::findings::{station_words, title_of};
use crate::words;

/// Traces below which a lay is a guess: in simulations ten to twenty measured traces carried nearly all there was to know.
pub(crate) const FEW_TRACES: usize = 20;

/// Share of suspects from which the rock's own lines may rule the picture. Our choice.
const MANY_SUSPECTS: f64 = 0.3;

/// Share of traces with both ends inside below which stroke length rests on little. Our choice.
const FEW_ENDS: f64 = 0.1;

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
        limits.extend(of_station(station));
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
    let mut limits = vec![];
    for capture in captures {
        let reasons = words::list(&capture.quality.reasons);
        let text = match (capture.quality.verdict, &capture.refused) {
            (Verdict::NotUsable, _) => {
                format!("Anything from {}: it is not usable ({reasons}).", capture.label)
            }
            (_, Some(why)) => {
                format!("Anything from {}: no traces are reported because {why}.", capture.label)
            }
            (Verdict::UsableWithCare, None) => {
                format!("How far {} can be trusted: it is usable with care only ({reasons}).", capture.label)
            }
            (Verdict::Usable, None) => continue,
        };
        let remedy = match capture.quality.verdict {
            Verdict::NotUsable => Some(format!("Take {} again.", capture.label)),
            _ => None,
        };
        limits.push(Limit {
            about: String::new(),
            text,
            remedy,
            rests_on: vec![anchor(&["fig", "picture", &capture.label])],
        });
    }
    limits
}

fn light(captures: &[&Capture]) -> Vec<Limit> {
    let mut limits = vec![];
    let hidden: Vec<&Capture> = captures.iter().copied().filter(|capture| capture.hidden.is_some()).collect();
    if !hidden.is_empty() {
        let mut sectors: Vec<String> = hidden
            .iter()
            .filter_map(|capture| capture.hidden)
            .map(|hidden| format!("within {:.0}° of {:.0}°", hidden.half_width_deg, hidden.axis.degrees()))
            .collect();
        sectors.sort();
        sectors.dedup();
        sectors.truncate(6);
        limits.push(Limit {
            about: String::new(),
            text: format!(
                "Whether there are traces {} on {}: one-sided light hides scratches that run along it.",
                words::list(&sectors),
                labels(&hidden)
            ),
            remedy: Some("Photograph each field once more with the light from a direction 60° to 90° away, without moving the microscope.".into()),
            rests_on: captures_table(),
        });
    }
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

fn of_station(station: &Station) -> Vec<Limit> {
    let who = station_words(station);
    let Some(lay) = &station.lay else {
        return vec![Limit {
            about: who.to_owned(),
            text: "Anything about its lay: none could be described.".into(),
            remedy: Some(format!("Take more micrographs at station {}.", station.label)),
            rests_on: vec![],
        }];
    };
    let figure = |kind: &str| vec![anchor(&["fig", kind, &station.label])];
    let mut limits = vec![];
    if lay.directions.len() < FEW_TRACES {
        limits.push(Limit {
            about: who.to_owned(),
            text: format!(
                "The lay rests on {} only; fewer than {FEW_TRACES} are a hint.",
                words::count(lay.directions.len(), "trace")
            ),
            remedy: Some(format!("Take more micrographs at station {}.", station.label)),
            rests_on: figure("rose"),
        });
    }
    if station.captures.len() == 1 {
        limits.push(Limit {
            about: who.to_owned(),
            text: "Whether its one field stands for its surroundings.".to_owned(),
            remedy: Some(format!(
                "Take at least two more fields at station {}, a few centimetres apart.",
                station.label
            )),
            rests_on: figure("rose"),
        });
    }
    if let Some(straightness) = &lay.straightness {
        let unit = straightness.unit.symbol();
        let reach = straightness.reach.map(|reach| format!("{} {unit}", words::significant(reach, 2)));
        let told = match (straightness.verdict, reach) {
            (StraightnessVerdict::Bowed, _) => None,
            (StraightnessVerdict::NotToldFromStraight, Some(reach)) => {
                Some(format!("Whether the traces are straight or arcs of a radius above {reach}."))
            }
            _ => Some("Whether the traces are straight.".to_owned()),
        };
        if let Some(text) = told {
            let remedy = straightness.limited_by.as_deref().map(reach_remedy);
            limits.push(Limit { about: who.to_owned(), text, remedy, rests_on: figure("bow") });
        }
    }
    if let Some(stroke) = &lay.stroke_length {
        limits.extend(stroke_limit(&who, stroke, figure("stroke")));
    }
    if lay.straightness.as_ref().is_some_and(|straightness| straightness.unit == LengthUnit::Pixels)
        && station.captures.iter().any(|capture| capture.scale.is_some())
    {
        limits.push(Limit {
            about: who.to_owned(),
            text: "Lengths in millimetres, since its captures do not all have a scale.".to_owned(),
            remedy: None,
            rests_on: figure("bow"),
        });
    }
    limits
}

fn stroke_limit(who: &str, stroke: &crate::dossier::StrokeLength, rests_on: Vec<String>) -> Option<Limit> {
    let total = stroke.ends.total();
    if total == 0 {
        return None;
    }
    let share = stroke.ends.both_inside as f64 / total as f64;
    let remedy = Some("Take wider fields (lower magnification) beside the narrow ones, so that strokes end inside the picture.".to_owned());
    if stroke.mean.is_none() {
        let why = stroke.note.clone().unwrap_or_else(|| "too few ends lie inside the fields".into());
        return Some(Limit {
            about: who.to_owned(),
            text: format!("How long the strokes are: {}", words::sentence(&why)),
            remedy,
            rests_on,
        });
    }
    (share < FEW_ENDS).then(|| Limit {
        about: who.to_owned(),
        text: format!(
            "The shape of the distribution of stroke lengths beyond the field: only {} of {} have both ends in the picture.",
            words::percent(share),
            words::count(total, "trace")
        ),
        remedy,
        rests_on,
    })
}

/// What widens the reach, by what limits it.
fn reach_remedy(limited_by: &str) -> String {
    match limited_by {
        "field" => "Take wider fields: the reach grows with the square of the visible length.".into(),
        "sharpness" => "Refocus or rest the microscope: the reach is limited by sharpness.".into(),
        "lens" => "Photograph a graduation or a straight edge across the whole frame at this setting, so that the lens can be calibrated.".into(),
        "tilt" => "Hold the microscope square to the surface: the reach is limited by tilt.".into(),
        "waviness" => "Take longer traces in wider fields: the scratches themselves waver, which limits the reach.".into(),
        other => format!("Widen the reach, which is limited by {other}."),
    }
}

fn between_stations(dossier: &Dossier) -> Vec<Limit> {
    let described = dossier.stations.iter().filter(|station| station.lay.is_some()).count();
    if dossier.stations.is_empty() || described >= 2 {
        return vec![];
    }
    vec![Limit {
        about: String::new(),
        text: "Whether the same marks run over the whole object: fewer than two stations have a lay.".into(),
        remedy: Some("Choose at least three stations far apart, by a rule fixed beforehand rather than by what looks good.".into()),
        rests_on: vec![],
    }]
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
    let expected: f64 = measured.iter().map(|capture| capture.expected_false).sum();
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
