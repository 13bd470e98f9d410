//! Every published or independently computed case of hardness, grit, wear and safety, to its stated tolerance. The
//! tables lie in the workspace's `tests/published/`, each case with its source, page, status and reader.

#![allow(clippy::unwrap_used, reason = "a broken table must stop the test")]

use serde_json::Value;
use stone::cautions::{SILICA_LIMITS, eight_hour_mean, light_dose_lux_h, limits_passed};
use stone::grit::{Grade, Scale, diamond_grades, jis_powders};
use stone::{
    Status, archard_mm3, area_times_depth_cm3, cone_wear_coefficient, equivalent_quartz_percent, knoop,
    mass_kg, preston_um_per_h, quartz_factor, rock_vickers, sphere_groove_width, vickers,
};

fn table(name: &str) -> Vec<Value> {
    let path = std::path::Path::new(env!("CARGO_MANIFEST_DIR")).join("../../tests/published").join(name);
    let table: Value = serde_json::from_str(&std::fs::read_to_string(path).unwrap()).unwrap();
    table["cases"].as_array().unwrap().clone()
}

fn case(table: &str, id: &str) -> Value {
    self::table(table).into_iter().find(|case| case["id"] == id).unwrap_or_else(|| panic!("no case {id}"))
}

fn number(value: &Value) -> f64 {
    value.as_f64().unwrap_or_else(|| panic!("{value} is not a number"))
}

fn numbers(value: &Value) -> Vec<f64> {
    value.as_array().unwrap().iter().map(number).collect()
}

fn assert_near(found: f64, expected: f64, tolerance: f64, what: &str) {
    assert!((found - expected).abs() <= tolerance * expected.abs(), "{what}: {found} instead of {expected}");
}

/// ISO 6507-1 and ISO 4545-1, definitions (from memory, source not seen).
#[test]
fn indentation_hardness() {
    for (id, formula, key) in [
        ("hardness.HV", vickers as fn(f64, f64) -> f64, "HV"),
        ("hardness.HK", knoop as fn(f64, f64) -> f64, "HK"),
    ] {
        let case = case("hardness.json", id);
        let diagonal = case["inputs"].get("d").or_else(|| case["inputs"].get("L")).unwrap();
        let found = formula(number(&case["inputs"]["F"]), number(diagonal));
        assert_near(found, number(&case["expected"][key]), number(&case["tol"]), id);
    }
}

/// Vickers hardness number rock, worked example (Bruland/NTNU, from memory, source not seen); equivalent quartz by the
/// factors of an abrasivity laboratory's sheet (seen).
#[test]
fn summary_numbers_of_rocks() {
    let case_vhnr = case("hardness.json", "hardness.VHNR");
    let parts: Vec<(f64, f64)> = case_vhnr["inputs"]
        .as_object()
        .unwrap()
        .values()
        .map(|pair| (number(&pair[0]), number(&pair[1])))
        .collect();
    assert_near(
        rock_vickers(&parts),
        number(&case_vhnr["expected"]["VHNR"]),
        number(&case_vhnr["tol"]),
        "VHNR",
    );

    let case = case("hardness.json", "hardness.quartz_equiv");
    for (mohs, factor) in case["inputs"]["factors"].as_object().unwrap() {
        assert_eq!(quartz_factor(mohs.parse().unwrap()), factor.as_f64(), "Mohs {mohs}");
    }
    let parts: Vec<(f64, f64)> = case["inputs"]["rock_mohs_pct"]
        .as_array()
        .unwrap()
        .iter()
        .map(|pair| (number(&pair[0]), number(&pair[1])))
        .collect();
    let found = equivalent_quartz_percent(&parts).unwrap();
    assert_near(found, number(&case["expected"]["eqc_pct"]), number(&case["tol"]), "equivalent quartz");
    assert_eq!(equivalent_quartz_percent(&[(9.0, 1.0)]), None, "nothing is said beyond quartz");
}

/// FEPA 43-1 / ISO 6344 (two pages seen that agree) and FEPA 42-1 / ISO 8486 (from memory, source not seen).
#[test]
fn fepa_scales() {
    for (id, scale) in [("grit.FEPA_P", Scale::FepaP), ("grit.FEPA_F", Scale::FepaF)] {
        let case = case("grit.json", id);
        let grits = numbers(&case["inputs"]["grit"]);
        assert_eq!(grits.len(), 28);
        for (grit, size) in grits.iter().zip(numbers(&case["expected"]["um"])) {
            let grade = Grade::new(scale, *grit as u32).unwrap();
            assert_near(grade.size_um(), size, number(&case["tol"]), &grade.name());
        }
    }
    assert_eq!(Scale::FepaP.source().status, Status::Seen);
    assert_eq!(Scale::FepaF.source().status, Status::FromMemory);
}

/// JIS R 6001:1987, fine powders, and ISO 6106 / FEPA 61 diamond sieves (tables seen).
#[test]
fn jis_and_diamond() {
    let case_jis = case("grit.json", "grit.JIS_R6001");
    let rows = case_jis["expected"]["rows"].as_array().unwrap();
    assert_eq!(rows.len(), jis_powders().len());
    for (row, powder) in rows.iter().zip(jis_powders()) {
        let found = [
            f64::from(powder.number),
            powder.d50_um,
            powder.tolerance_um,
            powder.largest_um,
            powder.d3_um,
            powder.d94_um,
        ];
        assert_eq!(numbers(row), found);
    }
    let case = case("grit.json", "grit.diamond_mesh");
    let rows = case["expected"]["rows"].as_array().unwrap();
    assert_eq!(rows.len(), diamond_grades().len());
    for (row, grade) in rows.iter().zip(diamond_grades()) {
        assert_eq!(row[0].as_str().unwrap(), format!("D{}", grade.code));
        let found = [f64::from(grade.mesh[0]), f64::from(grade.mesh[1]), grade.passes_um, grade.stops_um];
        assert_eq!(numbers(&Value::Array(row.as_array().unwrap()[1..].to_vec())), found);
    }
}

/// Archard, Preston, the ploughing cone, a round tip's groove, and area × depth: definitions, geometry and arithmetic.
#[test]
fn wear_and_volume() {
    let archard = case("grit.json", "wear.archard");
    let input = |key: &str| number(&archard["inputs"][key]);
    let found = archard_mm3(input("k"), input("W_N"), input("s_m"), input("H_Pa"));
    assert_near(found, number(&archard["expected"]["V_mm3"]), number(&archard["tol"]), "Archard");

    let cone = case("grit.json", "wear.cone_k");
    for (angle, expected) in numbers(&cone["inputs"]["theta_deg"]).iter().zip(numbers(&cone["expected"]["k"]))
    {
        assert_near(cone_wear_coefficient(*angle), expected, number(&cone["tol"]), "cone");
    }

    let preston = case("grit.json", "wear.preston");
    let input = |key: &str| number(&preston["inputs"][key]);
    let found = preston_um_per_h(input("kp_m2_N"), input("p_Pa"), input("v_m_s"));
    assert_near(found, number(&preston["expected"]["um_per_h"]), number(&preston["tol"]), "Preston");

    let volume = case("grit.json", "wear.removed_volume");
    let input = |key: &str| number(&volume["inputs"][key]);
    let found = area_times_depth_cm3(input("area_m2"), input("depth_mm"));
    assert_near(found, number(&volume["expected"]["cm3"]), number(&volume["tol"]), "area × depth");
    let mass = mass_kg(found, input("density"));
    assert_near(mass, number(&volume["expected"]["kg"]), number(&volume["tol"]), "mass");

    let groove = case("grit.json", "wear.sphere_groove");
    let found = sphere_groove_width(number(&groove["inputs"]["r_um"]), number(&groove["inputs"]["d_um"]));
    assert_near(found, number(&groove["expected"]["width_um"]), number(&groove["tol"]), "round tip");
}

/// Limits (sources seen except HSE's), the time-weighted average and the light dose (arithmetic).
#[test]
fn safety() {
    let limits = case("safety.json", "dust.limits");
    for (key, name) in [
        ("OSHA_PEL", "OSHA permissible exposure limit"),
        ("OSHA_action", "OSHA action level"),
        ("NIOSH_REL_up_to_10h", "NIOSH recommended exposure limit"),
        ("ACGIH_TLV", "ACGIH threshold limit value"),
        ("EU_BOELV", "EU binding occupational limit"),
        ("HSE_WEL", "HSE workplace exposure limit"),
    ] {
        let limit = SILICA_LIMITS.iter().find(|limit| limit.name == name).unwrap();
        assert_eq!(limit.limit.low, number(&limits["expected"][key]), "{name}");
        assert_eq!(limit.limit.source.status == Status::FromMemory, key == "HSE_WEL");
    }
    assert_eq!(limits["expected"].as_object().unwrap().len(), SILICA_LIMITS.len());

    let twa = case("safety.json", "dust.twa");
    let exposures: Vec<(f64, f64)> =
        numbers(&twa["inputs"]["c"]).into_iter().zip(numbers(&twa["inputs"]["h"])).collect();
    let mean = eight_hour_mean(&exposures);
    assert_near(mean, number(&twa["expected"]["twa8"]), number(&twa["tol"]), "mean");
    let passed: Vec<&str> = limits_passed(mean).iter().map(|limit| limit.name).collect();
    assert_eq!(passed.contains(&"OSHA action level"), twa["expected"]["above_action"].as_bool().unwrap());
    assert_eq!(
        passed.contains(&"OSHA permissible exposure limit"),
        twa["expected"]["above_PEL"].as_bool().unwrap()
    );

    let light = case("safety.json", "light.dose");
    let dose = light_dose_lux_h(number(&light["inputs"]["lux"]), number(&light["inputs"]["minutes"]));
    assert_near(dose, number(&light["expected"]["lux_h"]), number(&light["tol"]), "dose");
}

/// No case of the tables goes unread.
#[test]
fn every_case_has_its_check() {
    let here = include_str!("published.rs");
    for name in ["hardness.json", "grit.json", "safety.json"] {
        for case in table(name) {
            let id = case["id"].as_str().unwrap();
            assert!(here.contains(&format!("\"{id}\"")), "{id} is not checked");
            for key in ["source", "page", "status", "read_by"] {
                assert!(case[key].as_str().is_some_and(|text| !text.is_empty()), "{id}: no {key}");
            }
        }
    }
}
