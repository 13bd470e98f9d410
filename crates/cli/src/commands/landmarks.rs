//! `rubstone form PHOTOGRAPH --pair …`: symmetry of landmarks on photographs.

use std::path::Path;

use examine::form::{landmarks, landmarks_examination};
use examine::{ExamineError, Failure};
use picture::Fingerprint;
use wire::desk::{LandmarkPair, LandmarksAsked};
use wire::form::{FormAnswer, FormFile};

use super::form::point;
use crate::args::Form;
use crate::outcome::{Stop, open};

/// What the landmarks say, of each photograph.
pub fn measured(args: &Form) -> Result<(FormAnswer, Vec<Failure>), Stop> {
    let asked = asked(args)?;
    let examination = args.keep.as_deref().map(open).transpose()?;
    let (mut files, mut failures) = (Vec::new(), Vec::new());
    for file in &args.files {
        let one = || -> Result<FormFile, ExamineError> {
            let sha256 = Fingerprint::of_file(file)
                .map_err(|e| ExamineError::request(format!("cannot be read ({e}); check the disk")))?
                .hex();
            let name = examine::shown(Path::new(file.file_name().unwrap_or_default()));
            Ok(match &examination {
                Some(examination) => landmarks_examination(examination, &name, &sha256, &asked)?.form,
                None => landmarks(&name, &sha256, &asked)?.form,
            })
        };
        match one() {
            Ok(form) => files.push(form),
            Err(error) => failures.push(Failure::of_file(file, &error)),
        }
    }
    Ok((FormAnswer { schema: wire::form::SCHEMA.to_owned(), files }, failures))
}

fn asked(args: &Form) -> Result<LandmarksAsked, ExamineError> {
    let corner = |text: &String| point(text).map(|[x, y, _]| [x, y]);
    let corners = args.corner_px.iter().map(corner).collect::<Result<Vec<[f64; 2]>, _>>()?;
    let corners_px = match corners.as_slice() {
        [] => None,
        [a, b, c, d] => Some([*a, *b, *c, *d]),
        other => {
            let words = format!(
                "a rectangle has four corners, {} were given; give --corner-px four times",
                other.len()
            );
            return Err(ExamineError::request(words));
        }
    };
    Ok(LandmarksAsked {
        pairs: args.pair.iter().map(|text| pair(text)).collect::<Result<_, _>>()?,
        rectangle_mm: args.rectangle_mm.as_deref().and_then(|sides| <[f64; 2]>::try_from(sides).ok()),
        corners_px,
        u_click_px: args.u_click_px,
        relief_mm: args.relief_mm,
        distance_mm: args.distance_mm,
    })
}

fn pair(text: &str) -> Result<LandmarkPair, ExamineError> {
    let wrong = || ExamineError::request(format!("'{text}' is no pair; write it like brow,120,340,412,338"));
    // The name may hold commas; the last four parts are the numbers.
    let mut parts = text.rsplitn(5, ',');
    let mut number = || parts.next().and_then(|part| part.trim().parse::<f64>().ok()).ok_or_else(wrong);
    let (y2, x2, y1, x1) = (number()?, number()?, number()?, number()?);
    let name = parts.next().map(str::trim).filter(|name| !name.is_empty()).ok_or_else(wrong)?;
    Ok(LandmarkPair { name: name.to_owned(), left_px: [x1, y1], right_px: [x2, y2] })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_pair_is_read_from_its_end() {
        let read = pair("eye, outer corner,1,2.5,-3,4").unwrap();
        assert_eq!(read.name, "eye, outer corner");
        assert_eq!((read.left_px, read.right_px), ([1.0, 2.5], [-3.0, 4.0]));
        for wrong in ["", "brow", "brow,1,2,3", ",1,2,3,4", "1,2,3,4"] {
            assert!(pair(wrong).is_err(), "{wrong}");
        }
    }
}
