//! What pairs of landmarks on one photograph say about symmetry.

use ::form::{LandmarkOptions, Pair, Rectification, landmark_symmetry};
use archive::Examination;
use wire::desk::LandmarksAsked;
use wire::form::KeptForm;

use super::kept::keep_one;
use super::record::{add, begin};
use crate::ExamineError;

/// Measures the symmetry of pairs of landmarks on the photograph of this name and SHA-256.
///
/// # Errors
/// Too few pairs, pairs that define no axis, half a rectangle, or numbers that make no sense, in words.
pub fn landmarks(name: &str, sha256: &str, asked: &LandmarksAsked) -> Result<KeptForm, ExamineError> {
    let rectangle = match (asked.rectangle_mm, asked.corners_px) {
        (None, None) => None,
        (Some(size_mm), Some(corners_px)) => Some(Rectification { size_mm, corners_px }),
        _ => {
            return Err(ExamineError::request(
                "a rectangle needs its width and height and its four corners on the photograph; give all or none",
            ));
        }
    };
    let pairs: Vec<Pair> = asked
        .pairs
        .iter()
        .map(|pair| Pair { name: pair.name.clone(), left_px: pair.left_px, right_px: pair.right_px })
        .collect();
    let options = LandmarkOptions {
        u_click_px: asked.u_click_px,
        relief_and_distance_mm: asked.relief_mm.zip(asked.distance_mm),
    };
    let found = landmark_symmetry(&pairs, rectangle.as_ref(), &options)?;
    let facts = vec![("pairs of landmarks".to_owned(), pairs.len().to_string())];
    let mut kept = begin(name.to_owned(), "photograph", facts, Vec::new());
    add(&mut kept, "symmetry", &found);
    sha256.clone_into(&mut kept.sha256);
    kept.asked = said(asked);
    Ok(kept)
}

/// Measures and keeps the symmetry of pairs of landmarks on a photograph, in place of what was measured on it before.
///
/// # Errors
/// As [`landmarks`]; the examination cannot be written.
pub fn landmarks_examination(
    examination: &Examination,
    name: &str,
    sha256: &str,
    asked: &LandmarksAsked,
) -> Result<KeptForm, ExamineError> {
    let measured = landmarks(name, sha256, asked)?;
    keep_one(examination, &measured)?;
    Ok(measured)
}

/// What was pointed out, so that anybody can do it again.
fn said(asked: &LandmarksAsked) -> Vec<(String, String)> {
    let point = |[x, y]: [f64; 2]| format!("({x:.1}, {y:.1})");
    let mut said: Vec<(String, String)> = asked
        .pairs
        .iter()
        .map(|pair| {
            let words = format!("{} and {} px", point(pair.left_px), point(pair.right_px));
            (format!("landmarks, {}", pair.name), words)
        })
        .collect();
    if let (Some([width, height]), Some(corners)) = (asked.rectangle_mm, asked.corners_px) {
        let corners: Vec<String> = corners.into_iter().map(point).collect();
        said.push((
            "known rectangle".to_owned(),
            format!("{width} × {height} mm at {} px", corners.join(", ")),
        ));
    }
    said.push(("standard uncertainty of a click".to_owned(), format!("{} px", asked.u_click_px)));
    if let (Some(relief), Some(distance)) = (asked.relief_mm, asked.distance_mm) {
        said.push(("relief and distance of the camera".to_owned(), format!("± {relief} mm, {distance} mm")));
    }
    said
}

#[cfg(test)]
mod tests {
    use super::*;
    use wire::desk::LandmarkPair;

    fn asked() -> LandmarksAsked {
        let pair = |name: &str, y: f64, half: f64| LandmarkPair {
            name: name.to_owned(),
            left_px: [200.0 - half, y],
            right_px: [200.0 + half, y],
        };
        LandmarksAsked {
            pairs: vec![pair("brow", 80.0, 60.0), pair("cheek", 160.0, 90.0), pair("chin", 240.0, 30.0)],
            u_click_px: 0.5,
            ..LandmarksAsked::default()
        }
    }

    #[test]
    fn mirrored_pairs_stand_about_an_upright_axis() {
        let kept = landmarks("front.jpg", "ab", &asked()).unwrap();
        let axis = kept.form.quantities.iter().find(|q| q.name.ends_with("symmetry axis")).unwrap();
        assert!((axis.value - 90.0).abs() < 1e-9 && axis.unit == "°", "{axis:?}");
        let median = kept.form.quantities.iter().find(|q| q.name.ends_with("median")).unwrap();
        assert!(median.value.abs() < 1e-9 && median.unit == "px", "{median:?}");
        assert!(kept.form.notes.iter().any(|note| note.contains("Perspective is not corrected")));
        assert_eq!((kept.form.kind.as_str(), kept.sha256.as_str()), ("photograph", "ab"));
    }

    #[test]
    fn half_a_rectangle_and_too_few_pairs_are_refused_in_words() {
        let half = LandmarksAsked { rectangle_mm: Some([100.0, 50.0]), ..asked() };
        assert!(landmarks("f", "a", &half).unwrap_err().to_string().contains("all or none"));
        let few = LandmarksAsked { pairs: asked().pairs[..1].to_vec(), ..asked() };
        assert!(landmarks("f", "a", &few).unwrap_err().to_string().contains('2'));
    }
}
