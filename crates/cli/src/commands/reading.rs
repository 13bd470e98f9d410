//! `rubstone reading`.

use examine::{ExamineError, find_capture, forms};
use wire::answers::{AgreementAnswer, ReadingAnswer};
use wire::desk::{ReadingForm, ReadingRequest};

use super::json;
use crate::args;
use crate::outcome::{Outcome, Stop, open};
use crate::say;

pub fn run(args: &args::Reading) -> Result<Outcome, Stop> {
    let examination = open(&args.examination)?;
    let capture = find_capture(&examination, &args.capture)?.id;
    if args.agreement {
        let pairs = forms::agreement(&examination, capture)?;
        if args.json {
            json!(&AgreementAnswer { schema: "rubstone.agreement/1", pairs });
        } else if pairs.is_empty() {
            say::result("fewer than two people have read this capture; agreement needs two");
        } else {
            pairs.iter().for_each(|pair| say::result(&pair.sentence));
        }
        return Ok(Outcome::default());
    }
    let reading = match step(args)? {
        Some(step) => forms::step(&examination, capture, &args.person, &step)?,
        None => forms::reading(&examination, capture, &args.person)?,
    };
    if args.json {
        json!(&ReadingAnswer { schema: "rubstone.reading/1", reading });
    } else {
        say_reading(&reading);
    }
    Ok(Outcome::default())
}

/// The step that is asked for; clap lets one through at most.
fn step(args: &args::Reading) -> Result<Option<ReadingRequest>, ExamineError> {
    let given = |traces: &[u32]| (!traces.is_empty()).then(|| traces.to_vec());
    if let Some(words) = args.cut.as_deref() {
        let [trace, at] = words else { return Ok(None) };
        let number = trace.parse().map_err(|_| {
            ExamineError::request(format!("'{trace}' is no number of a trace; `rubstone reading` lists them"))
        });
        return Ok(Some(ReadingRequest::Cut { trace: number?, at: point(at)? }));
    }
    if !args.draw.is_empty() {
        let points = args.draw.iter().map(|text| point(text)).collect::<Result<_, _>>()?;
        return Ok(Some(ReadingRequest::Draw { points }));
    }
    Ok(given(&args.accept)
        .map(|traces| ReadingRequest::Accept { traces })
        .or_else(|| given(&args.reject).map(|traces| ReadingRequest::Reject { traces }))
        .or_else(|| given(&args.join).map(|traces| ReadingRequest::Join { traces }))
        .or_else(|| {
            given(&args.suspect).map(|traces| ReadingRequest::Suspect { traces, reason: args.reason.clone() })
        })
        .or_else(|| args.undo.then_some(ReadingRequest::Undo))
        .or_else(|| args.redo.then_some(ReadingRequest::Redo)))
}

fn point(text: &str) -> Result<[f64; 2], ExamineError> {
    super::form::point(text).map(|[x, y, _]| [x, y])
}

fn say_reading(reading: &ReadingForm) {
    let whose =
        if reading.person.is_empty() { "as found".to_owned() } else { format!("read by {}", reading.person) };
    say::result(&format!("{} traces, {whose}", reading.traces.len()));
    for trace in &reading.traces {
        let why = trace.suspect.as_ref().map_or(String::new(), |why| format!(" ({why})"));
        let hand = if trace.by_hand { ", by hand" } else { "" };
        say::result(&format!(
            "    {}: {}{why}{hand}; length {}, width {}, direction {}, bow {}",
            trace.id, trace.state, trace.length, trace.width, trace.direction, trace.bow
        ));
    }
    if let Some(refused) = &reading.refused {
        say::result(&format!("no traces: {refused}"));
    }
    if let Some(hidden) = &reading.hidden {
        say::result(hidden);
    }
    if !reading.people.is_empty() {
        say::result(&format!("readings by: {}", reading.people.join(", ")));
    }
}

#[cfg(test)]
mod tests {
    use clap::Parser;

    use super::*;
    use crate::args::{Args, Command};

    fn asked(words: &[&str]) -> Result<Option<ReadingRequest>, String> {
        let line = ["rubstone", "reading", "slab", "a.tif"].iter().chain(words);
        let args = Args::try_parse_from(line).map_err(|e| e.to_string())?;
        let Some(Command::Reading(reading)) = args.command else { return Err("another command".to_owned()) };
        step(&reading).map_err(|e| e.to_string())
    }

    #[test]
    fn one_step_is_taken_at_a_time_and_by_somebody() {
        assert_eq!(asked(&[]), Ok(None));
        assert_eq!(
            asked(&["--person", "A", "--reject", "3", "4"]),
            Ok(Some(ReadingRequest::Reject { traces: vec![3, 4] }))
        );
        assert_eq!(
            asked(&["--person", "A", "--draw", "1,2", "30.5,-4"]),
            Ok(Some(ReadingRequest::Draw { points: vec![[1.0, 2.0], [30.5, -4.0]] }))
        );
        assert_eq!(
            asked(&["--person", "A", "--cut", "7", "10,20"]),
            Ok(Some(ReadingRequest::Cut { trace: 7, at: [10.0, 20.0] }))
        );
        assert_eq!(asked(&["--person", "A", "--undo"]), Ok(Some(ReadingRequest::Undo)));
        assert_eq!(
            asked(&["--person", "A", "--suspect", "1", "--reason", "fibre"]),
            Ok(Some(ReadingRequest::Suspect { traces: vec![1], reason: "fibre".to_owned() }))
        );
        for wrong in [
            &["--reject", "3"][..],
            &["--person", "A", "--reject", "3", "--accept", "4"],
            &["--person", "A", "--undo", "--redo"],
            &["--person", "A", "--cut", "x", "10,20"],
            &["--person", "A", "--draw", "1", "2"],
        ] {
            assert!(asked(wrong).is_err(), "{wrong:?}");
        }
    }
}
