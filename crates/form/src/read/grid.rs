//! Heights as text: one row of numbers a line, separated by blanks.

use super::{HeightRead, Limits, Pitch, within};
use crate::{HeightMap, ReadError};

const FORMAT: &str = "text";

/// Reads rows of heights. Lines that are empty or begin with `#` are left out; `nan` in any case and dashes alone
/// (`-`, `---`) are heights that were not measured.
pub(super) fn read(bytes: &[u8], pitch: Pitch, limits: &Limits) -> Result<HeightRead, ReadError> {
    let text = std::str::from_utf8(bytes)
        .map_err(|fault| damaged(format!("byte {} is not text (UTF-8)", fault.valid_up_to())))?;
    let scale_um = pitch.height_unit.in_um() * pitch.height_per_count;
    let mut z_um: Vec<f64> = Vec::new();
    let (mut width, mut height) = (0, 0);
    for (index, line) in text.lines().enumerate() {
        let line = line.trim();
        if line.is_empty() || line.starts_with('#') {
            continue;
        }
        let before = z_um.len();
        for (column, word) in line.split_ascii_whitespace().enumerate() {
            let value = number(word).ok_or_else(|| damaged(not_a_number(word, index + 1, column + 1)))?;
            z_um.push(value * scale_um);
        }
        let found = z_um.len() - before;
        if height == 0 {
            width = found;
        } else if found != width {
            return Err(damaged(format!(
                "line {} has {found} heights, the first row has {width}",
                index + 1
            )));
        }
        height += 1;
        within("the grid of heights", z_um.len() as u64, limits.heights)?;
    }
    if z_um.is_empty() {
        return Err(ReadError::Empty { format: FORMAT, fault: "no heights" });
    }
    let map = HeightMap::new(width, height, pitch.dx_um, pitch.dy_um, z_um)
        .map_err(|fault| damaged(fault.to_string()))?;
    Ok(HeightRead { map, facts: Vec::new(), notes: Vec::new() })
}

fn number(word: &str) -> Option<f64> {
    if word.eq_ignore_ascii_case("nan") || word.bytes().all(|b| b == b'-') {
        return Some(f64::NAN);
    }
    // Rust reads "inf" and "infinity" too; a height is never infinite.
    word.parse().ok().filter(|value: &f64| value.is_finite())
}

fn not_a_number(word: &str, line: usize, column: usize) -> String {
    let shown: String = word.chars().take(20).collect();
    let comma = if word.contains(',') { "; use a decimal point and blanks between heights" } else { "" };
    format!("line {line}, height {column}: '{shown}' is not a number{comma}")
}

fn damaged(fault: String) -> ReadError {
    ReadError::Damaged { format: FORMAT, fault }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::LengthUnit;
    use proptest::prelude::*;

    fn pitch() -> Pitch {
        Pitch { dx_um: 2.0, dy_um: 3.0, height_unit: LengthUnit::Millimetre, height_per_count: 1.0 }
    }

    fn read_text(text: &str) -> Result<HeightRead, ReadError> {
        read(text.as_bytes(), pitch(), &Limits::default())
    }

    #[test]
    fn rows_of_heights() {
        let read = read_text("# invented\n1 2e0\t-0.5\n\n nan --- 4\r\n").unwrap();
        assert_eq!((read.map.width(), read.map.height(), read.map.measured()), (3, 2, 4));
        assert_eq!(read.map.row(0), [1000.0, 2000.0, -500.0]);
        assert!(read.map.row(1)[0].is_nan());
    }

    #[test]
    fn each_fault_is_one_clear_line() {
        for (text, message) in [
            ("# no heights\n", "text file holds no heights; nothing can be measured on it"),
            (
                "1 2\n3\n",
                "damaged text file: line 2 has 1 heights, the first row has 2; export or copy it again",
            ),
            (
                "1,5 2\n",
                "damaged text file: line 1, height 1: '1,5' is not a number; use a decimal point and blanks between heights; export or copy it again",
            ),
            (
                "1 inf\n",
                "damaged text file: line 1, height 2: 'inf' is not a number; export or copy it again",
            ),
            (
                "nan nan\n",
                "damaged text file: a height map needs at least 1 usable points, found 0; export or copy it again",
            ),
        ] {
            assert_eq!(read_text(text).unwrap_err().to_string(), message);
        }
        let limits = Limits { heights: 3, ..Limits::default() };
        assert!(matches!(read(b"1 2\n3 4\n", pitch(), &limits), Err(ReadError::TooLarge { found: 4, .. })));
    }

    proptest! {
        #[test]
        fn any_bytes_are_read_or_refused(bytes in proptest::collection::vec(any::<u8>(), 0..400)) {
            let _ = read(&bytes, pitch(), &Limits::default());
        }

        #[test]
        fn any_rows_of_numbers_survive_being_cut(
            rows in proptest::collection::vec(proptest::collection::vec(-1e6_f64..1e6, 3), 1..6),
            cut in 0_usize..200,
        ) {
            let text: String = rows.iter().map(|r| format!("{} {} {}\n", r[0], r[1], r[2])).collect();
            let whole = read_text(&text).unwrap();
            prop_assert_eq!(whole.map.row(0)[0], rows[0][0] * 1000.0);
            let _ = read_text(&text[..cut.min(text.len())]);
        }
    }
}
