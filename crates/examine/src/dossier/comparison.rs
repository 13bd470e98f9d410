//! Whether the stations differ, as the report prints it.

use report::dossier::{Comparison, ComparisonTest};

/// Error rate kept over all tests together (common practice, no source).
const LEVEL: f64 = 0.05;
/// The test, by what it does.
const TEST: &str = "captures of like field permuted between stations";

pub(super) fn comparison(comparison: &lay::Comparison, label: impl Fn(usize) -> String) -> Comparison {
    let mut tests = Vec::new();
    for answer in &comparison.overall {
        match answer {
            Ok(difference) => {
                let pairs: Vec<String> = comparison
                    .pairs
                    .iter()
                    .filter(|pair| pair.quantity == difference.quantity && pair.p_holm < LEVEL)
                    .map(|pair| pair.stations.iter().map(|&id| label(id)).collect::<Vec<_>>().join(" and "))
                    .collect();
                let note = if difference.smallest_p > LEVEL {
                    Some("too few captures to show a difference at this level".to_owned())
                } else {
                    (!pairs.is_empty()).then(|| format!("stations that differ: {}", pairs.join("; ")))
                };
                tests.push(ComparisonTest {
                    property: difference.quantity.words().to_owned(),
                    test: TEST.to_owned(),
                    p_adjusted: Some(difference.p_holm),
                    note,
                });
            }
            Err(reason) => tests.push(ComparisonTest {
                property: "stations".to_owned(),
                test: TEST.to_owned(),
                p_adjusted: None,
                note: Some(reason.to_string()),
            }),
        }
    }
    Comparison {
        level: LEVEL,
        multiplicity: format!("Holm's procedure over {} tests", tests.len()),
        tests,
        cautions: comparison.notes.clone(),
    }
}
