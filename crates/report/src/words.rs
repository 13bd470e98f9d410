//! Numbers as they are printed: with unit, with two digits of uncertainty, in British English.

use quantity::Measured;

use crate::dossier::{Estimate, LengthUnit};

/// Half the width of a 95 % interval over the standard uncertainty of a normal distribution.
const HALF_WIDTH_95_IN_U: f64 = 1.959_963_985;

/// `value ± u unit`, two significant digits of `u`.
#[must_use]
pub fn measured(quantity: Measured, unit: &str) -> String {
    let printable = |number: f64| number.is_finite() && number.abs() < 1e300;
    if !(printable(quantity.value) && printable(quantity.u)) {
        return "not finite".into();
    }
    with_unit(&quantity.to_string().replace('-', "−"), unit)
}

/// `value unit (low to high unit, 95 % interval)`.
pub(crate) fn interval(estimate: Estimate, unit: &str) -> String {
    let (value, low, high) = rounded(estimate);
    format!("{} (95 % interval {low} to {})", with_unit(&value, unit), with_unit(&high, unit))
}

/// `value [low; high]` without a unit, for tables whose heading names it.
pub(crate) fn bracketed(estimate: Estimate) -> String {
    let (value, low, high) = rounded(estimate);
    format!("{value} [{low}; {high}]")
}

/// Value and interval ends. The shorter half of the interval says how many digits mean something; an end that lies much
/// further out gets two digits of its own.
fn rounded(estimate: Estimate) -> (String, String, String) {
    const FURTHER_OUT: f64 = 5.0;
    let halves = [estimate.value - estimate.low, estimate.high - estimate.value];
    let shorter = halves.into_iter().filter(|half| *half > 0.0).fold(f64::INFINITY, f64::min);
    let u = shorter / HALF_WIDTH_95_IN_U;
    let to_u = |value: f64| {
        let shown = Measured { value, u }.to_string();
        group(&shown.split(" ± ").next().unwrap_or_default().replace('-', "−"))
    };
    let show = |value: f64, half: f64| match half {
        _ if !value.is_finite() || value.abs() > 1e300 => "no limit".to_owned(),
        _ if !u.is_finite() => significant(value, 3),
        half if half > FURTHER_OUT * shorter => significant(value, 2),
        _ => to_u(value),
    };
    let [below, above] = halves;
    (show(estimate.value, 0.0), show(estimate.low, below), show(estimate.high, above))
}

/// Whether an interval spans more than a factor of ten: then the value says little.
pub(crate) fn is_loose(estimate: Estimate) -> bool {
    estimate.low <= 0.0 || estimate.high > 10.0 * estimate.low
}

/// Half of an interval of directions to a tenth of a degree, never rounded down to nothing.
pub(crate) fn half_angle(half_deg: f64) -> String {
    format!("{:.1}°", half_deg.max(0.1))
}

/// A number without a stated uncertainty, to `digits` significant digits, never in powers of ten.
#[must_use]
pub fn significant(value: f64, digits: usize) -> String {
    if value == 0.0 {
        return "0".into();
    }
    // Beyond this rounding would overflow; nothing measured comes near.
    if !value.is_finite() || value.abs() > 1e300 {
        return "not finite".into();
    }
    let exponent: i32 = format!("{:.*e}", digits.saturating_sub(1), value.abs())
        .split('e')
        .nth(1)
        .and_then(|exponent| exponent.parse().ok())
        .unwrap_or(0);
    let decimals = i32::try_from(digits).unwrap_or(3) - 1 - exponent;
    let shown = if decimals >= 0 {
        format!("{value:.*}", usize::try_from(decimals).unwrap_or(0).min(12))
    } else {
        let unit = 10f64.powi(-decimals);
        format!("{:.0}", (value / unit).round() * unit)
    };
    group(&shown.replace('-', "−"))
}

/// Thousands parted by commas from 10,000 on.
fn group(shown: &str) -> String {
    match shown.parse::<u64>() {
        Ok(whole) if whole >= 10_000 => thousands(whole),
        _ => shown.to_owned(),
    }
}

/// `3.2 mm`; degrees stand close.
pub(crate) fn with_unit(number: &str, unit: &str) -> String {
    match unit {
        "" => number.to_owned(),
        "°" => format!("{number}°"),
        unit => format!("{number} {unit}"),
    }
}

/// `p = 0.012`, `p < 0.001`.
pub(crate) fn p_value(p: f64) -> String {
    if !p.is_finite() {
        "p not known".into()
    } else if p < 0.001 {
        "p < 0.001".into()
    } else if p > 0.99 {
        "p > 0.99".into()
    } else {
        format!("p = {p:.*}", if p < 0.1 { 3 } else { 2 })
    }
}

/// A share of one as whole per cent, `< 1 %` where that would be nothing.
#[must_use]
pub fn percent(share: f64) -> String {
    if share > 0.0 && share < 0.005 { "< 1 %".into() } else { format!("{:.0} %", share * 100.0) }
}

/// `1 trace`, `12 traces`, `1,204 traces`.
pub(crate) fn count(number: usize, one: &str) -> String {
    if number == 1 { format!("1 {one}") } else { format!("{} {one}s", thousands(number as u64)) }
}

/// `12,345`.
pub(crate) fn thousands(number: u64) -> String {
    let digits = number.to_string();
    let mut grouped = String::with_capacity(digits.len() + digits.len() / 3);
    for (index, digit) in digits.chars().enumerate() {
        if index > 0 && (digits.len() - index).is_multiple_of(3) {
            grouped.push(',');
        }
        grouped.push(digit);
    }
    grouped
}

/// `a`, `a and b`, `a, b and c`.
pub(crate) fn list<T: AsRef<str>>(items: &[T]) -> String {
    match items {
        [] => String::new(),
        [only] => only.as_ref().to_owned(),
        [most @ .., last] => {
            let most: Vec<&str> = most.iter().map(AsRef::as_ref).collect();
            format!("{} and {}", most.join(", "), last.as_ref())
        }
    }
}

/// A text whose numbers do not part from their units at the end of a line.
pub(crate) fn tie(text: &str) -> String {
    const UNITS: [&str; 7] = ["%", "±", "mm", "µm", "px", "per", "°"];
    let mut tied = String::with_capacity(text.len());
    for (index, word) in text.split(' ').enumerate() {
        if index > 0 {
            let after_number =
                tied.chars().next_back().is_some_and(|last| last.is_ascii_digit() || last == '°');
            let relation =
                ["=", "<", ">"].iter().any(|sign| word == *sign || tied.ends_with(&format!("\u{a0}{sign}")));
            let unit = after_number && UNITS.iter().any(|unit| word.starts_with(unit));
            let ties = unit || relation || tied.ends_with('±');
            tied.push(if ties { '\u{a0}' } else { ' ' });
        }
        tied.push_str(word);
    }
    tied
}

/// The first letter as a capital and a full stop at the end.
pub(crate) fn sentence(text: &str) -> String {
    let text = text.trim();
    let mut letters = text.chars();
    let Some(first) = letters.next() else { return String::new() };
    let mut whole: String = first.to_uppercase().chain(letters).collect();
    if !whole.ends_with(['.', '!', '?', ':']) {
        whole.push('.');
    }
    whole
}

/// The reciprocal of a length unit, for curvatures.
pub(crate) fn per(unit: LengthUnit) -> &'static str {
    match unit {
        LengthUnit::Micrometres => "µm⁻¹",
        LengthUnit::Millimetres => "mm⁻¹",
        LengthUnit::Pixels => "px⁻¹",
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn intervals_carry_two_digits_of_uncertainty() {
        let estimate = Estimate { value: 3.2174, low: 2.81, high: 3.69 };
        assert_eq!(interval(estimate, "mm"), "3.22 mm (95 % interval 2.81 to 3.69 mm)");
        assert_eq!(bracketed(Estimate { value: 1234.0, low: 1000.0, high: 1500.0 }), "1230 [1000; 1500]");
        assert_eq!(bracketed(Estimate { value: 3.4, low: 0.002, high: 631.7 }), "3.4 [0.0; 630]");
        assert_eq!(bracketed(Estimate { value: 104.0, low: 1.2, high: 8.7e7 }), "104 [1; 87,000,000]");
        assert_eq!(bracketed(Estimate { value: 0.5, low: 0.5, high: 0.5 }), "0.500 [0.500; 0.500]");
    }

    #[test]
    fn small_numbers_are_words_of_their_own() {
        assert_eq!(p_value(1e-9), "p < 0.001");
        assert_eq!((p_value(0.0123), p_value(0.31)), ("p = 0.012".into(), "p = 0.31".into()));
        assert_eq!(percent(0.001), "< 1 %");
        assert_eq!(count(1, "trace"), "1 trace");
        assert_eq!(count(1_204, "trace"), "1,204 traces");
        assert_eq!(list(&["a", "b", "c"]), "a, b and c");
        assert_eq!(significant(1234.5, 2), "1200");
        assert_eq!(significant(240_123.0, 3), "240,000");
        assert_eq!(significant(-0.01234, 2), "−0.012");
        assert_eq!(sentence("no scale"), "No scale.");
        assert_eq!(tie("(p = 0.4)"), "(p\u{a0}=\u{a0}0.4)");
        assert_eq!(
            tie("95 % of 3 mm, 1.0° ± 0.2°, 3 cats"),
            "95\u{a0}% of 3\u{a0}mm, 1.0°\u{a0}±\u{a0}0.2°, 3 cats"
        );
    }
}
