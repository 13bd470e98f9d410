//! The chapters of the report in their order, built from a dossier.

mod generic;
mod methods;
mod object;
mod provenance;
mod stations;
mod summary;
mod weighing;
mod whole;

pub(crate) use generic::chapter as generic;
pub(crate) use stations::{lay_blocks, lay_section as lay_of_station, light_words};
pub(crate) use weighing::{chapter as weighing, simulated};
pub(crate) use whole::{chapter as whole, lay_section as lay_of_whole};

use crate::document::{Document, Numbers, Section};
use crate::dossier::Dossier;

/// The whole report. Chapters that have nothing to say are left out; 'what these pictures cannot tell' never is.
pub(crate) fn document(dossier: &Dossier) -> Document {
    let mut sections: Vec<Section> = vec![summary::findings(dossier), summary::limits(dossier)];
    sections.extend(summary::next_visit(dossier));
    sections.push(object::chapter(dossier));
    sections.push(stations::chapter(dossier));
    sections.extend(whole::chapter(dossier));
    sections.extend(dossier.weighing.as_ref().map(|weighing| weighing::chapter(dossier, weighing)));
    let optional = [("form", "Form", &dossier.form), ("stone", "Stone and tools", &dossier.stone)];
    for (id, title, chapter) in optional {
        sections.extend(chapter.as_ref().map(|chapter| generic::chapter(id, title, chapter)));
    }
    sections.push(methods::chapter(dossier));
    sections.push(provenance::chapter(dossier));
    let numbers = Numbers::of(&sections);
    Document { title: title(dossier), subtitle: subtitle(dossier), sections, numbers }
}

fn title(dossier: &Dossier) -> String {
    let name = dossier.object.name.trim();
    if name.is_empty() {
        "Examination of a worked stone".to_owned()
    } else {
        format!("Examination of {name}")
    }
}

fn subtitle(dossier: &Dossier) -> Vec<String> {
    let mut lines = vec![];
    if let Some(examiner) = &dossier.object.examiner {
        lines.push(format!("Examiner: {examiner}"));
    }
    if let Some(made_at) = &dossier.provenance.made_at {
        lines.push(format!("Report made {made_at}"));
    }
    if !dossier.provenance.software.is_empty() {
        lines.push(dossier.provenance.software.clone());
    }
    lines
}
