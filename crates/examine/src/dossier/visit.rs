//! The plan of the next visit as the report prints it.

use report::dossier::{Chapter, Table};
use report::{percent, significant};
use wire::plan::{KeptPlan, PlanForm};

/// The chapter of a plan.
pub(crate) fn chapter(kept: &KeptPlan) -> Chapter {
    let (question, answer) = (&kept.question, &kept.answer);
    let pairs: Vec<String> =
        question.pairs.iter().map(|[a, b]| format!("{} or {}", title(a), title(b))).collect();
    let scales: Vec<String> = question.um_per_px.iter().map(|scale| significant(*scale, 3)).collect();
    let asked = format!(
        "Asked: {}? With pictures of {} × {} px at {} µm/px, in {} minutes at most, and a chance of {} or better of a ratio of \
         ten or more the right way",
        pairs.join("; "),
        question.size_px[0],
        question.size_px[1],
        scales.join(" or "),
        significant(question.minutes, 3),
        percent(question.probability)
    );
    let rows: Vec<Vec<String>> =
        answer.enough.iter().enumerate().map(|(index, plan)| row(index + 1, plan)).collect();
    let table = |caption: &str, rows| Table { caption: caption.to_owned(), headings: headings(), rows };
    let mut tables = Vec::new();
    if !rows.is_empty() {
        tables.push(table("Plans that are enough, the cheapest first.", rows));
    }
    if let Some(best) = answer.best_otherwise.as_ref().filter(|_| answer.enough.is_empty()) {
        tables.push(table("The best of the plans that are not enough.", vec![row(1, best)]));
    }
    Chapter {
        paragraphs: vec![asked],
        computed: vec![title_names(&answer.words, kept)],
        cannot_tell: answer
            .enough
            .is_empty()
            .then(|| {
                "whether any visit within the time given settles the question: none of the plans tried does"
                    .to_owned()
            })
            .into_iter()
            .collect(),
        tables,
        sources: vec![format!(
            "Chances counted on simulated objects that no model had seen: {} of each finish for each of {} plans, seed {}.",
            question.objects_per_finish, answer.tried, question.seed
        )],
        ..Chapter::default()
    }
}

fn headings() -> Vec<String> {
    [
        "Plan",
        "Stations",
        "Fields",
        "Field width, mm",
        "Scale, µm/px",
        "Light",
        "Time, min",
        "Chance",
        "At worst",
        "The wrong way",
        "Decided by",
    ]
    .map(str::to_owned)
    .to_vec()
}

fn row(number: usize, plan: &PlanForm) -> Vec<String> {
    let [a, b] = &plan.hardest_pair;
    vec![
        number.to_string(),
        plan.stations.to_string(),
        plan.fields.to_string(),
        significant(plan.width_mm, 2),
        significant(plan.um_per_px, 3),
        plan.light.clone(),
        significant(plan.minutes, 2),
        percent(plan.right),
        percent(plan.least_favourable),
        percent(plan.wrong),
        format!("{} or {}", title(a), title(b)),
    ]
}

fn title(name: &str) -> String {
    name.replace('-', " ")
}

/// A sentence with the finishes' names as people say them.
fn title_names(words: &str, kept: &KeptPlan) -> String {
    let names = kept.question.pairs.iter().flatten();
    names.fold(words.to_owned(), |words, name| words.replace(name.as_str(), &title(name)))
}
