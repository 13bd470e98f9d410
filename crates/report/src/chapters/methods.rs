//! Methods with their sources: only those that this examination used.

use crate::document::{Block, PrintedTable, Section};
use crate::dossier::{Dossier, Lay};
use crate::limits::FEW_TRACES;

/// What was computed, how, and where the method is published.
pub(crate) fn chapter(dossier: &Dossier) -> Section {
    let mut section = Section::new("methods", "Methods and sources");
    section.new_page = !dossier.stations.is_empty();
    section.paragraph(
        "Uncertainties follow the Guide to the expression of uncertainty in measurement; ‘±’ gives a standard uncertainty with two \
         digits unless it is called a 95 % interval. Directions are axes: 10° and 190° are the same. A mark † means that the method \
         was taken from the named source as others quote it; the source itself was not at hand.",
    );
    let rows = rows(dossier);
    section.blocks.push(Block::Table(PrintedTable {
        id: "table-methods".into(),
        caption: "Methods used in this report.".into(),
        headings: ["What", "How", "Source"].map(str::to_owned).to_vec(),
        rows: rows.into_iter().map(|row| row.map(str::to_owned).to_vec()).collect(),
    }));
    let mut own = Section::new("methods-own", "Choices of our own");
    own.blocks.push(Block::List(vec![
        format!("A lay that rests on fewer than {FEW_TRACES} traces is called a hint. In simulated examinations ten to twenty measured traces carried nearly all there was to know about the finish."),
        "Suspects do not count unless the examiner accepts them; the examiner’s decisions are in the table of traces.".into(),
        "Pictures that are not usable enter no statistic.".into(),
        "This report draws no conclusion about people, periods or cultures; traces tell of motion, not of who or when.".into(),
    ]));
    section.sections.push(own);
    section
}

fn rows(dossier: &Dossier) -> Vec<[&'static str; 3]> {
    let lays: Vec<&Lay> = dossier.stations.iter().filter_map(|station| station.described()).collect();
    let any = |has: &dyn Fn(&Lay) -> bool| lays.iter().any(|lay| has(lay));
    let mut rows = vec![
        ["Uncertainty", "propagated from scale, localisation, waviness and lens", "JCGM 100:2008 (GUM) †"],
        [
            "Traces",
            "integrated along lines at full and at half resolution, accepted by the number of false ones to be expected in a picture \
             like this (a contrario); under a ring or light through the lens, if noted so, a line with one bright and one dark side is \
             taken for an edge, not for a groove, unless the grooves themselves show light from one side",
            "Grompone von Gioi et al., IPOL 2012, doi 10.5201/ipol.2012.gjmr-lsd †",
        ],
        [
            "Curvature",
            "least squares; its variance falls with the fifth power of the length in pixels",
            "Gluckstern, Nucl. Instrum. Methods 24 (1963) †; checked against the exact inverse",
        ],
    ];
    if !lays.is_empty() {
        rows.push([
            "Directions",
            "doubled angles; resultant length, test of uniformity on doubled angles",
            "Fisher, Statistical Analysis of Circular Data (1993) †; Mardia & Jupp, Directional Statistics (2000) †",
        ]);
    }
    if any(&|lay| !lay.sets.is_empty()) {
        rows.push([
            "Sets",
            "mixture of von Mises distributions and an even ground; number of sets by an information criterion; intervals by \
             resampling captures",
            "Fisher (1993) † for data and checks; Mardia & Jupp (2000) †",
        ]);
    }
    if any(&|lay| lay.straightness.is_some()) {
        rows.push([
            "Straightness",
            "typical bow: weighted median of the curvatures’ sizes with the measuring scatter taken out, its interval by a sign test, so \
             that traces followed wrongly do not carry it along; held against the reach: the radius whose sagitta over the visible chord \
             is lost in localisation, waviness and residual distortion",
            "sagitta L²/(8R); ours",
        ]);
    }
    if any(&|lay| lay.stroke_length.is_some()) {
        rows.push([
            "Stroke length",
            "Kaplan–Meier curve of visible lengths, cut-off ones censored; it ignores that long strokes are met more often, so the mean \
             comes from a window estimator",
            "Kaplan & Meier, JASA 53 (1958) †; Mauldon, Dunne & Rohrbaugh, J. Struct. Geol. 23:247–258 (2001), abstract; Pahl (1981) †",
        ]);
    }
    if any(&|lay| !lay.spacings.is_empty()) {
        rows.push([
            "Spacing",
            "distances along the set’s normal against a Poisson field of the same intensity, the field’s edges allowed for",
            "Cox & Lewis, The Statistical Analysis of Series of Events (1966), ch. 6 †",
        ]);
    }
    if dossier.comparison.is_some() {
        rows.push([
            "Stations",
            "tests named in the table, over captures rather than traces, since traces of one field are not independent",
            "Watson’s two-sample U² for directions: Zar, Biostatistical Analysis (2010) †",
        ]);
    }
    if dossier.weighing.is_some() {
        rows.push([
            "Weighing",
            "likelihood ratios from simulated examinations, calibrated on simulations they were not fitted to, capped by their number",
            "Brümmer & du Preez, Computer Speech & Language 20:230–275 (2006) †; ENFSI guideline (2015) † for the words",
        ]);
    }
    rows
}
