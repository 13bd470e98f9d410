//! Whether two people read the same traces.

use lay::{AgreementOptions, Item};
use wire::desk::AgreementForm;

use crate::describe::item;
use crate::reading::Standing;

/// How far two readings of one capture agree on the traces they accept.
#[must_use]
pub fn between(first: &str, a: &Standing, second: &str, b: &Standing) -> AgreementForm {
    let items = |standing: &Standing| standing.accepted().map(item).collect::<Vec<Item>>();
    let (of_first, of_second) = (items(a), items(b));
    let agreement = lay::agreement(&of_first, &of_second, &AgreementOptions::default());
    let both = agreement.matched.len();
    let sentence = match agreement.agreement {
        Some(share) => format!(
            "{first} and {second} accept the same trace in {both} cases; agreement {share:.2} on a scale from 0, none, to 1, full (twice the traces both accept over all that either accepts)."
        ),
        None => "Neither accepts any trace.".to_owned(),
    };
    AgreementForm {
        first: first.to_owned(),
        second: second.to_owned(),
        both,
        first_only: of_first.len().saturating_sub(both),
        second_only: of_second.len().saturating_sub(both),
        sentence,
    }
}
