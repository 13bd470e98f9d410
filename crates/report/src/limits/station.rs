//! What cannot be told of one station.

use super::{FEW_TRACES, Limit};
use crate::document::anchor;
use crate::dossier::{Station, StraightnessVerdict, StrokeLength};
use crate::findings::station_words;
use crate::words;

/// Share of traces with both ends inside below which stroke length rests on little. Our choice.
const FEW_ENDS: f64 = 0.1;

/// The gaps of one station.
pub(super) fn of_station(station: &Station) -> Vec<Limit> {
    let who = station_words(station);
    let Some(lay) = station.described() else {
        return vec![Limit {
            about: who.to_owned(),
            text: "Anything about its lay: no trace counts.".into(),
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
    limits.extend(hidden_limit(&who, station, figure("rose")));
    if let Some(straightness) = &lay.straightness {
        let unit = straightness.unit.symbol();
        let reach = straightness.reach.map(|reach| format!("{} {unit}", words::significant(reach, 2)));
        let told = match (straightness.verdict(), reach) {
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
    limits
}

/// What one-sided light did to the directions of a station.
fn hidden_limit(who: &str, station: &Station, rests_on: Vec<String>) -> Option<Limit> {
    let hidden = station.captures.iter().filter(|capture| capture.hidden.is_some()).count();
    let (text, remedy) = match station.hidden_everywhere() {
        Some(sector) => (
            format!(
                "Whether there are traces within {:.0}° of {:.0}°: the light ran along them on every capture and hides such scratches.",
                sector.half_width_deg,
                sector.axis.degrees()
            ),
            "Photograph each field once more with the light from a direction 60° to 90° away, without moving the microscope.",
        ),
        None if hidden > 0 => (
            "How common each direction is: one-sided light hides a part of the directions on each capture, and not the same part, \
             so the shares are uneven."
                .to_owned(),
            "Give every field the same two directions of light, 60° to 90° apart, without moving the microscope: then each \
             direction is hidden as often as any other.",
        ),
        None => return None,
    };
    Some(Limit { about: who.to_owned(), text, remedy: Some(remedy.into()), rests_on })
}

fn stroke_limit(who: &str, stroke: &StrokeLength, rests_on: Vec<String>) -> Option<Limit> {
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
    if let Some(mean) = stroke.mean.filter(|mean| words::is_loose(*mean)) {
        return Some(Limit {
            about: who.to_owned(),
            text: format!(
                "How long the strokes are to better than a factor of ten: {}.",
                words::interval(mean, stroke.unit.symbol())
            ),
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
