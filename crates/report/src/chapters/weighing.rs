//! The weighing chapter, in its fixed order: what cannot be told apart, the pairs, whether none fits, sensitivity,
//! and probabilities only for priors that were typed.

use base64::Engine as _;

use crate::document::{Block, PrintedFigure, PrintedTable, Section, anchor};
use crate::dossier::{Capture, Dossier, FinishRow, Pair, SensitivityRow, Simulated, Weighing};
use crate::figures::{self, TOLD_APART_FROM, signed_ratio};
use crate::findings::{favoured_first, title_of};
use crate::words;

/// The chapter; a weighing that could not be made says why and stops.
pub(crate) fn chapter(dossier: &Dossier, weighing: &Weighing) -> Section {
    let mut section = Section::new("weighing", "Weighing: which ways of finishing the marks support");
    section.new_page = true;
    if let Some(why) = &weighing.cannot {
        section.paragraph(format!("The finishes cannot be weighed because {}", words::sentence(why)));
        return section;
    }
    section.paragraph(
        "The finishes below are models: each was simulated under the geometry, sharpness and light of these very captures. A ratio \
         compares two of them and says nothing about any way of finishing that was not modelled. It speaks of the marks present, \
         not of the first finish of the stone, and never of who worked it or when.",
    );
    section.blocks.extend(weighing.stations.iter().map(|words| Block::Paragraph(words::sentence(words))));
    section.blocks.extend(weighing.cautions.iter().map(|caution| Block::Caution(words::sentence(caution))));
    section.sections.push(cannot_tell_apart(weighing));
    section.sections.push(pairs(weighing));
    section.sections.extend(none_fits(weighing));
    section.sections.extend(sensitivity(weighing));
    section.sections.extend(typed_priors(weighing));
    section.sections.push(reach(dossier));
    section.sections.extend(simulated(weighing));
    section.sections.push(models(weighing));
    section
}

fn cannot_tell_apart(weighing: &Weighing) -> Section {
    let mut section = Section::new("weighing-apart", "What cannot be told apart with these pictures");
    if weighing.cannot_tell_apart.is_empty() {
        section.paragraph("No group: every pair of finishes is told apart by these pictures.");
    } else {
        let groups = weighing
            .cannot_tell_apart
            .iter()
            .map(|group| {
                let names: Vec<String> = group.names.iter().map(|name| title_of(weighing, name)).collect();
                words::sentence(&format!("{}: {}", words::list(&names), group.why))
            })
            .collect();
        section.blocks.push(Block::List(groups));
    }
    section
}

fn pairs(weighing: &Weighing) -> Section {
    let mut section = Section::new("weighing-pairs", "Pairs");
    let mut told: Vec<&Pair> =
        weighing.pairs.iter().filter(|pair| figures::nearer_end(pair).abs() >= TOLD_APART_FROM).collect();
    told.sort_by(|a, b| figures::nearer_end(b).abs().total_cmp(&figures::nearer_end(a).abs()));
    let cap = weighing
        .cap_log10
        .map(|cap| {
            format!(
                " No ratio is given beyond ±{}: the number of simulations cannot support more.",
                words::significant(cap, 2)
            )
        })
        .unwrap_or_default();
    section.paragraph(format!(
        "A pair counts as told apart where its 95 % interval stays at least {TOLD_APART_FROM} away from zero.{cap} Words for the size of a \
         ratio: {}.",
        if weighing.words_source.is_empty() { "a published scale" } else { weighing.words_source.trim_end_matches('.') }
    ));
    if told.is_empty() {
        section.paragraph("No pair is told apart.");
    } else {
        section.blocks.push(Block::Table(PrintedTable {
            id: "table-pairs".into(),
            caption: "Pairs told apart, the clearest first.".into(),
            headings: ["The marks present support", "over", "log10 ratio", "95 % interval", "in words"]
                .map(str::to_owned)
                .to_vec(),
            rows: told.iter().map(|pair| told_row(weighing, pair)).collect(),
        }));
    }
    section.blocks.push(Block::Figures(vec![PrintedFigure {
        id: "fig-pairs".into(),
        figure: figures::pairs_matrix(weighing),
        caption: "log10 likelihood ratios of every pair of finishes with 95 % intervals.".into(),
    }]));
    section
}

fn told_row(weighing: &Weighing, pair: &Pair) -> Vec<String> {
    let pair = favoured_first(pair);
    vec![
        title_of(weighing, &pair.a),
        title_of(weighing, &pair.b),
        signed_ratio(pair.log10_lr),
        format!("{} to {}", signed_ratio(pair.low), signed_ratio(pair.high)),
        pair.words,
    ]
}

fn none_fits(weighing: &Weighing) -> Option<Section> {
    let none_fits = weighing.none_fits.as_ref()?;
    let mut section = Section::new("weighing-none", "Does any of them fit?");
    let p = words::p_value(none_fits.p);
    if none_fits.flagged {
        section.blocks.push(Block::Caution(format!(
            "None of the modelled finishes fits the marks present ({p}): {} The ratios above compare models that are all wrong.",
            words::sentence(&none_fits.because)
        )));
    } else {
        let text = format!(
            "The marks present lie within what the best-fitting finish draws ({p}; furthest out: {}).",
            none_fits.because.trim_end_matches('.')
        );
        section.paragraph(text);
        section.paragraph("This test misses many a finish that was not modelled; a fit is no evidence that the right one is among them.");
    }
    Some(section)
}

fn sensitivity(weighing: &Weighing) -> Option<Section> {
    if weighing.sensitivity.is_empty() {
        return None;
    }
    let mut section = Section::new("weighing-sensitivity", "What the assumptions do");
    let row = |row: &SensitivityRow| {
        vec![
            row.change.clone(),
            format!("{} over {}", title_of(weighing, &row.a), title_of(weighing, &row.b)),
            signed_ratio(row.before),
            signed_ratio(row.after),
            signed_ratio(row.after - row.before),
        ]
    };
    section.blocks.push(Block::Table(PrintedTable {
        id: "table-sensitivity".into(),
        caption: "The pair that moves most for each changed assumption.".into(),
        headings: ["Changed", "Pair", "log10 ratio before", "after", "change"].map(str::to_owned).to_vec(),
        rows: weighing.sensitivity.iter().map(row).collect(),
    }));
    let turned = weighing.sensitivity.iter().filter(|row| row.before * row.after < 0.0).count();
    section.paragraph(match turned {
        0 => "No change turns a ratio round.".to_owned(),
        1 => "One change turns a ratio round; what the pairs say on it rests on that assumption.".to_owned(),
        number => format!(
            "{number} changes turn a ratio round; what the pairs say on them rests on those assumptions."
        ),
    });
    Some(section)
}

fn typed_priors(weighing: &Weighing) -> Option<Section> {
    if weighing.typed_priors.is_empty() {
        return None;
    }
    let mut section = Section::new("weighing-priors", "Probabilities for the priors that were typed");
    section.paragraph("These probabilities are the typed ones, changed by the ratios above. Other priors give other probabilities.");
    section.blocks.push(Block::Table(PrintedTable {
        id: "table-priors".into(),
        caption: "Probabilities before and after, for the typed priors only.".into(),
        headings: ["Finish", "typed prior", "after the marks"].map(str::to_owned).to_vec(),
        rows: weighing
            .typed_priors
            .iter()
            .map(|prior| {
                let show = |value: f64| words::significant(value, 2);
                vec![title_of(weighing, &prior.name), show(prior.prior), show(prior.posterior)]
            })
            .collect(),
    }));
    Some(section)
}

fn reach(dossier: &Dossier) -> Section {
    let mut section = Section::new("weighing-reach", "Reach of the captures");
    let row = |capture: &Capture| {
        let (radius, limit) = match &capture.reach {
            Some(reach) => (reach.radius(), reach.limited_by.clone()),
            None => ("not known".into(), String::new()),
        };
        let width = capture
            .field_mm()
            .map_or("no scale".into(), |(width, _)| format!("{} mm", words::significant(width, 3)));
        vec![capture.label.clone(), width, radius, limit]
    };
    section.blocks.push(Block::Table(PrintedTable {
        id: "table-reach".into(),
        caption: "Largest radius that each capture can tell from a straight line.".into(),
        headings: ["Capture", "Field width", "Reach", "Limited by"].map(str::to_owned).to_vec(),
        rows: dossier.stations.iter().flat_map(|station| &station.captures).map(row).collect(),
    }));
    section
}

/// What each finish would have looked like, where pictures were rendered.
pub(crate) fn simulated(weighing: &Weighing) -> Option<Section> {
    let printed: Vec<PrintedFigure> = weighing
        .finishes
        .iter()
        .filter_map(|finish| Some(simulated_figure(finish, finish.simulated.as_ref()?)))
        .collect();
    if printed.is_empty() {
        return None;
    }
    let mut section = Section::new("weighing-pictures", "What each finish would have looked like here");
    section.paragraph("Simulated pictures, not photographs: one draw each from the models, with the field, sharpness and light of one capture. On the right half of each the simulated strokes are drawn in, most of which are too faint to be seen at this size.");
    section.blocks.push(Block::Figures(printed));
    Some(section)
}

fn simulated_figure(finish: &FinishRow, simulated: &Simulated) -> PrintedFigure {
    let data = base64::engine::general_purpose::STANDARD.encode(&simulated.picture.bytes);
    PrintedFigure {
        id: anchor(&["fig", "simulated", &finish.name]),
        figure: figures::simulated(&finish.title, simulated, &data),
        caption: format!(
            "Simulated: {}, seen as in {}; right half: its strokes drawn in.",
            finish.title, simulated.like_capture
        ),
    }
}

fn models(weighing: &Weighing) -> Section {
    let mut section = Section::new("weighing-models", "The finishes that were modelled");
    let rows = weighing
        .finishes
        .iter()
        .map(|finish| {
            let relative = finish.log10_likelihood_relative.map_or("none".into(), signed_ratio);
            vec![finish.title.clone(), finish.model.clone(), relative]
        })
        .collect();
    section.blocks.push(Block::Table(PrintedTable {
        id: "table-finishes".into(),
        caption: "Modelled finishes; last column: log10 likelihood relative to the best of them.".into(),
        headings: ["Finish", "Model and its ranges", "relative"].map(str::to_owned).to_vec(),
        rows,
    }));
    section.paragraph(format!(
        "{} simulated objects, seed {}.",
        words::thousands(weighing.simulations),
        weighing.seed
    ));
    section
}
