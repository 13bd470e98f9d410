//! What a person's reading makes of the traces found: their steps replayed over the measurement.

use archive::{CaptureId, Examination, Reading};
use trace::Trace;
use wire::kept::Kept;
use wire::reading::Step;

use crate::ExamineError;

/// A trace in a reading.
#[derive(Debug, Clone, PartialEq)]
pub struct ReadTrace {
    /// The trace; its number is unique within the reading.
    pub trace: Trace,
    /// What the reading says of it.
    pub state: State,
    /// Drawn, cut or joined by hand.
    pub by_hand: bool,
    /// Why it might not be a scratch, in the finder's or the person's words.
    pub suspicion: Option<String>,
}

/// What a reading says of a trace; only accepted traces count.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum State {
    /// A scratch.
    Accepted,
    /// May be something else.
    Suspect,
    /// Not a scratch, says the person.
    Rejected,
}

/// A capture's traces as a reading leaves them.
#[derive(Debug, Clone, PartialEq)]
pub struct Standing {
    /// The measurement it rests on; `None` where nothing was measured yet.
    pub kept: Option<Kept>,
    /// Whose reading it is; `None` where nobody has read it.
    pub person: Option<String>,
    /// All traces.
    pub traces: Vec<ReadTrace>,
}

impl Standing {
    /// The traces that count.
    pub fn accepted(&self) -> impl Iterator<Item = &Trace> {
        self.traces.iter().filter(|read| read.state == State::Accepted).map(|read| &read.trace)
    }
}

/// The reading that lay, weighing and report rest on: the first person's who has said anything of this capture, over the
/// measurement they read; without any, the traces as found, suspects not counted.
///
/// # Errors
/// The examination cannot be read.
pub fn standing(examination: &Examination, capture: CaptureId) -> Result<Standing, ExamineError> {
    for reading in examination.readings()?.into_iter().filter(|reading| reading.capture == capture) {
        if !examination.standing_steps(reading.id)?.is_empty() {
            return standing_of(examination, &reading);
        }
    }
    as_found(examination, capture)
}

/// The traces as found, as everyone sees them who has not read the capture yet.
///
/// # Errors
/// The examination cannot be read.
pub fn as_found(examination: &Examination, capture: CaptureId) -> Result<Standing, ExamineError> {
    let kept = match examination.measurement(capture)? {
        Some(measurement) => Some(wire::kept::read(&measurement.payload)?),
        None => None,
    };
    let found = kept.as_ref().map_or(&[][..], |kept| &kept.found.traces);
    Ok(Standing { traces: replay(found, &[]), kept, person: None })
}

/// One person's reading.
///
/// # Errors
/// The examination cannot be read.
pub fn standing_of(examination: &Examination, reading: &Reading) -> Result<Standing, ExamineError> {
    let kept = wire::kept::read(&examination.measurement_by_id(reading.measurement)?.payload)?;
    let steps = examination
        .standing_steps(reading.id)?
        .iter()
        .map(|event| wire::reading::read(&event.payload))
        .collect::<Result<Vec<_>, _>>()?;
    let traces = replay(&kept.found.traces, &steps);
    Ok(Standing { kept: Some(kept), person: Some(reading.person.clone()), traces })
}

/// Replays steps over the traces found. Steps that name traces no longer there do nothing to them.
#[must_use]
pub fn replay(found: &[Trace], steps: &[Step]) -> Vec<ReadTrace> {
    let mut traces: Vec<ReadTrace> = found.iter().map(read_as_found).collect();
    for step in steps {
        match step {
            Step::Accept(ids) => each(&mut traces, ids, |read| read.state = State::Accepted),
            Step::Reject(ids) => each(&mut traces, ids, |read| read.state = State::Rejected),
            Step::Suspect(ids, reason) => each(&mut traces, ids, |read| {
                let cleared = reason.is_empty();
                read.state = if cleared { State::Accepted } else { State::Suspect };
                read.suspicion = (!cleared).then(|| reason.clone());
            }),
            Step::Draw(trace) => traces.push(by_hand(trace)),
            Step::Join(ids, joined) => {
                traces.retain(|read| !ids.contains(&read.trace.id));
                traces.push(by_hand(joined));
            }
            Step::Cut(id, parts) => {
                traces.retain(|read| read.trace.id != *id);
                traces.extend(parts.iter().map(by_hand));
            }
        }
    }
    traces
}

fn read_as_found(trace: &Trace) -> ReadTrace {
    let suspicion = trace.suspect.map(|suspect| suspicion_words(suspect).to_owned());
    let state = if suspicion.is_some() { State::Suspect } else { State::Accepted };
    ReadTrace { trace: trace.clone(), state, by_hand: false, suspicion }
}

fn by_hand(trace: &Trace) -> ReadTrace {
    ReadTrace { trace: trace.clone(), state: State::Accepted, by_hand: true, suspicion: None }
}

/// The finder's suspicion in words.
#[must_use]
pub fn suspicion_words(suspect: trace::Suspect) -> &'static str {
    match suspect {
        trace::Suspect::Lamella => "lamella",
        trace::Suspect::GrainEdge => "grain edge",
        trace::Suspect::Compression => "compression",
        trace::Suspect::Sensor => "sensor",
        trace::Suspect::Blur => "blur",
    }
}

fn each(traces: &mut [ReadTrace], ids: &[u32], change: impl Fn(&mut ReadTrace)) {
    traces.iter_mut().filter(|read| ids.contains(&read.trace.id)).for_each(change);
}

#[cfg(test)]
mod tests {
    use quantity::{AxialDeg, Measured};
    use trace::{Ends, Suspect};

    use super::*;

    fn line(id: u32, suspect: Option<Suspect>) -> Trace {
        Trace {
            id,
            points_px: vec![[0.0, 0.0], [10.0, 0.0]],
            length_px: 10.0,
            width_px: Measured { value: 2.0, u: 0.1 },
            direction: AxialDeg::new(0.0).unwrap(),
            direction_u_deg: 0.1,
            curvature_per_px: Measured { value: 0.0, u: 1e-3 },
            ends: Ends { first_inside: true, last_inside: true },
            contrast: 2.0,
            log10_nfa: -2.0,
            suspect,
        }
    }

    fn states(traces: &[ReadTrace]) -> Vec<(u32, State)> {
        traces.iter().map(|read| (read.trace.id, read.state)).collect()
    }

    #[test]
    fn suspects_do_not_count_until_accepted() {
        let found = [line(1, None), line(2, Some(Suspect::Lamella))];
        assert_eq!(states(&replay(&found, &[])), [(1, State::Accepted), (2, State::Suspect)]);
        let accepted = replay(&found, &[Step::Accept(vec![2])]);
        assert_eq!(states(&accepted), [(1, State::Accepted), (2, State::Accepted)]);
    }

    #[test]
    fn joined_and_cut_traces_take_the_place_of_theirs() {
        let found = [line(1, None), line(2, None), line(3, None)];
        let steps = [
            Step::Join(vec![1, 2], line(4, None)),
            Step::Cut(3, [line(5, None), line(6, None)]),
            Step::Reject(vec![5, 1]),
        ];
        let read = replay(&found, &steps);
        assert_eq!(states(&read), [(4, State::Accepted), (5, State::Rejected), (6, State::Accepted)]);
        assert!(read.iter().all(|read| read.by_hand));
    }

    #[test]
    fn a_suspicion_can_be_raised_and_taken_back() {
        let found = [line(1, None)];
        let raised = [Step::Suspect(vec![1], "fibre".to_owned())];
        assert_eq!(replay(&found, &raised)[0].suspicion.as_deref(), Some("fibre"));
        let back = [raised[0].clone(), Step::Suspect(vec![1], String::new())];
        assert_eq!(states(&replay(&found, &back)), [(1, State::Accepted)]);
    }
}
