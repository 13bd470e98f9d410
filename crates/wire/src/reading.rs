//! `rubstone.step/1`: one step of a person's reading, as the examination keeps it.

use serde::{Deserialize, Serialize};
use trace::Trace;

use crate::kept::{TraceForm, trace, trace_form};
use crate::{FormError, from_text, to_line};

/// Name of the form.
pub const SCHEMA: &str = "rubstone.step/1";

/// One step of a reading. Traces made by hand are fitted once, when the step is made, and kept with it.
#[derive(Debug, Clone, PartialEq)]
pub enum Step {
    /// These are scratches.
    Accept(Vec<u32>),
    /// These are not.
    Reject(Vec<u32>),
    /// These may be something else, for this reason; an empty reason takes the suspicion back.
    Suspect(Vec<u32>, String),
    /// One more.
    Draw(Trace),
    /// These are one scratch.
    Join(Vec<u32>, Trace),
    /// This is two.
    Cut(u32, [Trace; 2]),
}

#[derive(Debug, Serialize, Deserialize)]
struct StepForm {
    schema: String,
    #[serde(flatten)]
    step: Kind,
}

#[derive(Debug, Serialize, Deserialize)]
#[serde(tag = "step", rename_all = "snake_case")]
enum Kind {
    Accept { traces: Vec<u32> },
    Reject { traces: Vec<u32> },
    Suspect { traces: Vec<u32>, reason: String },
    Draw { drawn: TraceForm },
    Join { traces: Vec<u32>, joined: TraceForm },
    Cut { trace: u32, parts: [TraceForm; 2] },
}

/// A step as the text that is kept.
///
/// # Errors
/// [`FormError::Unwritable`], which no step should meet.
pub fn write(step: &Step) -> Result<String, FormError> {
    let step = match step {
        Step::Accept(traces) => Kind::Accept { traces: traces.clone() },
        Step::Reject(traces) => Kind::Reject { traces: traces.clone() },
        Step::Suspect(traces, reason) => Kind::Suspect { traces: traces.clone(), reason: reason.clone() },
        Step::Draw(drawn) => Kind::Draw { drawn: trace_form(drawn) },
        Step::Join(traces, joined) => Kind::Join { traces: traces.clone(), joined: trace_form(joined) },
        Step::Cut(trace, [first, second]) => {
            Kind::Cut { trace: *trace, parts: [trace_form(first), trace_form(second)] }
        }
    };
    to_line(&StepForm { schema: SCHEMA.to_owned(), step })
}

/// Reads a kept step.
///
/// # Errors
/// [`FormError`]; a kept text is only ever wrong if the examination was changed by hand.
pub fn read(text: &str) -> Result<Step, FormError> {
    let form: StepForm = from_text(text, SCHEMA)?;
    Ok(match form.step {
        Kind::Accept { traces } => Step::Accept(traces),
        Kind::Reject { traces } => Step::Reject(traces),
        Kind::Suspect { traces, reason } => Step::Suspect(traces, reason),
        Kind::Draw { drawn } => Step::Draw(trace(drawn)?),
        Kind::Join { traces, joined } => Step::Join(traces, trace(joined)?),
        Kind::Cut { trace: cut, parts: [first, second] } => Step::Cut(cut, [trace(first)?, trace(second)?]),
    })
}

#[cfg(test)]
mod tests {
    use quantity::{AxialDeg, Measured};
    use trace::Ends;

    use super::*;

    fn line(id: u32) -> Trace {
        Trace {
            id,
            points_px: vec![[1.0, 2.0], [30.5, 2.25]],
            length_px: 29.5,
            width_px: Measured { value: 3.0, u: 0.5 },
            direction: AxialDeg::new(179.5).unwrap(),
            direction_u_deg: 0.2,
            curvature_per_px: Measured { value: 1e-4, u: 2e-4 },
            ends: Ends { first_inside: true, last_inside: false },
            contrast: 2.5,
            log10_nfa: -3.0,
            suspect: None,
        }
    }

    #[test]
    fn every_step_comes_back_as_it_was() {
        let steps = [
            Step::Accept(vec![1, 2]),
            Step::Reject(vec![]),
            Step::Suspect(vec![7], "fibre".to_owned()),
            Step::Draw(line(9)),
            Step::Join(vec![1, 2], line(10)),
            Step::Cut(3, [line(11), line(12)]),
        ];
        for step in steps {
            assert_eq!(read(&write(&step).unwrap()).unwrap(), step);
        }
    }

    #[test]
    fn another_form_is_refused() {
        assert!(read("{\"schema\":\"rubstone.step/2\",\"step\":\"accept\",\"traces\":[]}").is_err());
        assert!(read("{\"step\":\"accept\",\"traces\":[]}").is_err());
    }
}
