//! Every published or independently computed case of the evaluation of likelihood ratios, to its stated tolerance. The table
//! lies in the workspace's `tests/published/`, each case with its source, status and reader.

#![allow(clippy::unwrap_used, reason = "a broken table must stop the test")]

use serde_json::Value;
use weigh::evaluation::{cllr, cllr_min, pav, pav_ratios, tippett};

fn table() -> Vec<Value> {
    let path = std::path::Path::new(env!("CARGO_MANIFEST_DIR")).join("../../tests/published/evaluation.json");
    let text = std::fs::read_to_string(path).unwrap();
    serde_json::from_str::<Value>(&text).unwrap()["cases"].as_array().unwrap().clone()
}

fn numbers(value: &Value) -> Vec<f64> {
    let number = |v: &Value| if v == "inf" { f64::INFINITY } else { v.as_f64().unwrap() };
    value.as_array().unwrap().iter().map(number).collect()
}

fn ln(value: &Value) -> Vec<f64> {
    numbers(value).iter().map(|ratio| ratio.ln()).collect()
}

fn close(found: f64, expected: f64, case: &Value) {
    let tolerance = case["tol"].as_f64().unwrap()
        * if case["tol_kind"] == "rel" { expected.abs().max(1e-12) } else { 1.0 };
    let same = found == expected || (found - expected).abs() <= tolerance.max(1e-12);
    assert!(same, "{}: found {found}, expected {expected}", case["id"]);
}

fn all_close(found: &[f64], expected: &Value, case: &Value) {
    let expected = numbers(expected);
    assert_eq!(found.len(), expected.len(), "{}", case["id"]);
    found.iter().zip(expected).for_each(|(found, expected)| close(*found, expected, case));
}

/// Costs, pooled ratios and Tippett proportions of samples of ratios.
fn check_sample(case: &Value) {
    let (inputs, expected) = (&case["inputs"], &case["expected"]);
    let (h1, h2) = (ln(&inputs["LR_H1"]), ln(&inputs["LR_H2"]));
    close(cllr(&h1, &h2), expected["cllr"].as_f64().unwrap(), case);
    if let Some(least) = expected["cllr_min"].as_f64() {
        close(cllr_min(&h1, &h2), least, case);
        let (best_h1, best_h2) = pav_ratios(&h1, &h2);
        all_close(&best_h1.iter().map(|x| x.exp()).collect::<Vec<_>>(), &expected["pav_LR_H1"], case);
        all_close(&best_h2.iter().map(|x| x.exp()).collect::<Vec<_>>(), &expected["pav_LR_H2"], case);
    }
    if expected["tippett_at"].is_array() {
        for (key, sample) in [("tippett_H1_ge", &h1), ("tippett_H2_ge", &h2)] {
            let found: Vec<f64> = ln(&expected["tippett_at"]).iter().map(|at| tippett(sample, *at)).collect();
            all_close(&found, &expected[key], case);
        }
    }
}

/// Calibrated Gaussian log ratios, ln LR ~ N(±s²/2, s²), by the midpoint rule.
fn check_gaussian(case: &Value) {
    let expected = numbers(&case["expected"]["cllr"]);
    for (variance, cost) in numbers(&case["inputs"]["s2"]).into_iter().zip(expected) {
        let sd: f64 = variance.sqrt();
        let (mut sum, mut total) = (0.0, 0.0);
        for k in 0..20_000 {
            let z = (f64::from(k) + 0.5) / 1000.0 - 10.0;
            let density = (-0.5 * z * z).exp();
            let x = 0.5 * variance + sd * z;
            sum += density * cllr(&[x], &[-x]);
            total += density;
        }
        close(sum / total, cost, case);
    }
}

/// The verbal scale: bands as printed, except that ratios below about 3 are not spoken of at all (docs/weighing.md).
fn check_words(case: &Value) {
    let phrases = case["expected"]["phrase"].as_array().unwrap();
    for (ratio, phrase) in numbers(&case["inputs"]["LR"]).into_iter().zip(phrases) {
        let found = weigh::words(ratio.log10());
        let phrase = phrase.as_str().unwrap();
        let expected = if phrase == "no support" { "cannot be told apart" } else { phrase };
        assert!(found.starts_with(expected), "{ratio}: {found}, printed {phrase}");
    }
}

#[test]
fn every_case_of_the_table() {
    let cases = table();
    assert!(cases.len() >= 7, "the table is cut short");
    for case in &cases {
        match case["id"].as_str().unwrap() {
            "lr.verbal" => check_words(case),
            "lr.cllr_gauss" => check_gaussian(case),
            "lr.pav_hand" => all_close(&pav(&numbers(&case["inputs"]["y"])), &case["expected"]["fit"], case),
            _ => check_sample(case),
        }
    }
}
