//! Every published or independently computed case of the statistics, to its stated tolerance. The tables lie in the
//! workspace's `tests/published/`, each case with its source, page, status and reader.

#![allow(clippy::unwrap_used, reason = "a broken table must stop the test")]

use std::collections::BTreeSet;
use std::path::Path;

use lay::mixture::{self, Mixture, Sample, Shape};
use lay::survival::{self, Length};
use lay::window::{self, Counts};
use lay::{axial, circle, circular, curvature, spacing, two_sample, uniform};
use quantity::{AxialDeg, Measured, UmPerPx};
use serde_json::Value;

/// One table, which counts the cases asked for, so that none is left unread.
struct Table {
    cases: Vec<Value>,
    read: std::cell::RefCell<BTreeSet<String>>,
}

impl Table {
    fn open(name: &str) -> Self {
        let path = Path::new(env!("CARGO_MANIFEST_DIR")).join("../../tests/published").join(name);
        let text = std::fs::read_to_string(&path).unwrap_or_else(|e| panic!("{}: {e}", path.display()));
        let table: Value = serde_json::from_str(&text).unwrap();
        let cases = table["cases"].as_array().unwrap().clone();
        for case in &cases {
            for key in ["source", "page", "status", "read_by"] {
                assert!(case[key].as_str().is_some_and(|text| !text.is_empty()), "{}: no {key}", case["id"]);
            }
        }
        Self { cases, read: std::cell::RefCell::default() }
    }

    fn case(&self, id: &str) -> Case<'_> {
        let case = self.cases.iter().find(|case| case["id"] == id).unwrap_or_else(|| panic!("no case {id}"));
        self.read.borrow_mut().insert(id.to_owned());
        Case { table: self, case }
    }

    fn starting(&self, prefix: &str) -> Vec<Case<'_>> {
        let ids =
            self.cases.iter().filter_map(|case| case["id"].as_str()).filter(|id| id.starts_with(prefix));
        ids.map(|id| self.case(id)).collect()
    }

    fn all_read(&self) {
        let all: BTreeSet<String> =
            self.cases.iter().map(|case| case["id"].as_str().unwrap().to_owned()).collect();
        let read = self.read.borrow();
        let unread: Vec<&String> = all.difference(&read).collect();
        assert!(unread.is_empty(), "cases without a check: {unread:?}");
    }
}

#[derive(Clone, Copy)]
struct Case<'a> {
    table: &'a Table,
    case: &'a Value,
}

fn numbers(value: &Value) -> Vec<f64> {
    value.as_array().unwrap().iter().map(|v| v.as_f64().unwrap()).collect()
}

fn pairs(value: &Value) -> Vec<[f64; 2]> {
    value.as_array().unwrap().iter().map(numbers).map(|pair| [pair[0], pair[1]]).collect()
}

impl Case<'_> {
    fn input(&self, key: &str) -> f64 {
        self.case["inputs"][key].as_f64().unwrap_or_else(|| panic!("{}: no input {key}", self.id()))
    }

    fn inputs(&self, key: &str) -> Vec<f64> {
        numbers(&self.case["inputs"][key])
    }

    fn count(&self, key: &str) -> usize {
        self.input(key) as usize
    }

    fn id(&self) -> &str {
        self.case["id"].as_str().unwrap()
    }

    fn expected(&self, key: &str) -> f64 {
        self.case["expected"][key].as_f64().unwrap_or_else(|| panic!("{}: no value {key}", self.id()))
    }

    fn expected_all(&self, key: &str) -> Vec<f64> {
        numbers(&self.case["expected"][key])
    }

    /// Angles on the full circle: as they are, or doubled for axes.
    fn angles(&self) -> Vec<f64> {
        let inputs = &self.case["inputs"];
        for key in ["ref", "data"] {
            if let Some(other) = inputs[key].as_str() {
                return self.table.case(other).angles();
            }
        }
        if let Some(radians) = inputs["data_rad"].as_array() {
            return radians.iter().map(|v| v.as_f64().unwrap()).collect();
        }
        let factor = if inputs["axial"] == true { 2.0 } else { 1.0 };
        self.inputs("data_deg").iter().map(|deg| factor * deg.to_radians()).collect()
    }

    fn is_axial(&self) -> bool {
        self.case["inputs"]["axial"] == true
    }

    /// Checks `actual` against the named value to the tolerance of the case.
    fn check(&self, key: &str, actual: f64) {
        self.check_value(key, actual, self.expected(key));
    }

    fn check_value(&self, what: &str, actual: f64, expected: f64) {
        let tolerance = self.case["tol"].as_f64().unwrap();
        let off = match self.case["tol_kind"].as_str().unwrap() {
            "abs" => (actual - expected).abs(),
            _ => (actual / expected - 1.0).abs(),
        };
        let same = actual == expected || off <= tolerance;
        assert!(same, "{} {what}: {actual} for {expected}", self.id());
    }
}

#[test]
fn directions() {
    let table = Table::open("directions.json");
    table.starting("circ.summary.").into_iter().for_each(summary);
    tests_of_evenness(&table);
    two_samples(&table);
    mixtures(&table);
    concentration(&table);

    let case = table.case("circ.mean_ci.fisherB6_set2");
    let angles: Vec<f64> = case.angles();
    let moments = circular::moments(&angles, &[]).unwrap();
    let interval = moments.mean_interval().unwrap();
    case.check("mean_deg", interval.value.to_degrees());
    case.check("dispersion", moments.dispersion());
    for key in ["ci_deg", "published_ci_deg"] {
        case.check_value(key, interval.low.to_degrees(), case.expected_all(key)[0]);
        case.check_value(key, interval.high.to_degrees(), case.expected_all(key)[1]);
    }

    let case = table.case("circ.axial_difference");
    for ([a, b], apart) in
        pairs(&case.case["inputs"]["pairs_deg"]).into_iter().zip(case.expected_all("diff_deg"))
    {
        case.check_value("diff_deg", AxialDeg::new(a).unwrap().angle_to(AxialDeg::new(b).unwrap()), apart);
    }
    table.all_read();
}

fn summary(case: Case) {
    let angles = case.angles();
    let moments = circular::moments(&angles, &[]).unwrap();
    let n = moments.count;
    let r = moments.resultant;
    let halved = if case.is_axial() { 0.5 } else { 1.0 };
    case.check("n", n as f64);
    case.check("mean_deg", halved * moments.mean_rad.to_degrees());
    case.check("R", n as f64 * r);
    case.check("Rbar", r);
    case.check("circ_var", 1.0 - r);
    case.check("circ_sd_rad", moments.standard_deviation_rad());
    case.check("rayleigh_z", uniform::rayleigh_z(n, r));
    case.check("p_exp", uniform::rayleigh_p_large(n, r));
    case.check("p_zar", uniform::rayleigh_p_closed(n, r));
    case.check("kappa_mle", moments.kappa());
    let expansion = case.expected("p_wilkie4");
    if expansion > 0.0 {
        case.check("p_wilkie4", uniform::rayleigh_p(n, r));
    } else {
        // The trap: the four-term expansion goes negative here. Ours stays a probability.
        case.check_value("p_zar in place of a negative p", uniform::rayleigh_p(n, r), case.expected("p_zar"));
    }
    let kuiper = uniform::kuiper(&angles).unwrap();
    case.check("kuiper_V", kuiper.statistic);
    case.check("kuiper_Vstar", kuiper.modified);
    case.check("kuiper_p_asym_Vstar", kuiper.p);
    let watson = uniform::watson(&angles).unwrap();
    case.check("watson_U2", watson.statistic);
    case.check("watson_U2star", watson.modified);
    case.check("watson_p_asym_U2star", watson.p);
    // Axes given as axes must come to the same as their doubled angles.
    if case.is_axial() {
        let axes: Vec<AxialDeg> = case.inputs("data_deg").into_iter().filter_map(AxialDeg::new).collect();
        let mean = axial::mean(&axes, &[]).unwrap();
        case.check("mean_deg", mean.degrees());
        case.check("Rbar", axial::moments(&axes, &[]).unwrap().resultant);
    }
}

fn tests_of_evenness(table: &Table) {
    let case = table.case("circ.published.zar27_1");
    let moments = circular::moments(&case.angles(), &[]).unwrap();
    case.check("z", uniform::rayleigh_z(moments.count, moments.resultant));
    case.check("r", moments.resultant);
    // Printed to whole degrees.
    assert!((moments.mean_rad.to_degrees() - case.expected("mean_deg")).abs() <= 0.5);
    let between = case.expected_all("p_between");
    let p = uniform::rayleigh_p(moments.count, moments.resultant);
    assert!(between[0] < p && p < between[1], "{p}");

    let case = table.case("circ.published.zar27_2");
    let (v, u) = uniform::known_direction(&case.angles(), case.input("mu0_deg").to_radians()).unwrap();
    case.check("V", v);
    case.check("u", u);

    let case = table.case("circ.published.pigeon");
    let watson = uniform::watson(&case.angles()).unwrap();
    case.check("U2star", watson.modified);
    assert!(watson.p > case.expected("p_gt"));

    let case = table.case("circ.published.fisherB5_kuiper");
    case.check("Vstar", uniform::kuiper(&case.angles()).unwrap().modified);

    let case = table.case("circ.published.astropy_rtest");
    let moments = circular::moments(&case.angles(), &[]).unwrap();
    case.check("p", uniform::rayleigh_p(moments.count, moments.resultant));
    case.check("Rbar", moments.resultant);

    let case = table.case("circ.U2_asym_tail");
    for (statistic, p) in case.inputs("U2").into_iter().zip(case.expected_all("p")) {
        case.check_value("p", uniform::watson_tail(statistic), p);
    }
    let case = table.case("circ.kuiper_asym_tail");
    for (statistic, p) in case.inputs("K").into_iter().zip(case.expected_all("p")) {
        case.check_value("p", uniform::kuiper_tail(statistic), p);
    }
}

fn two_samples(table: &Table) {
    for id in ["circ.watson2.zar27_9", "circ.watson2.zar27_10_ties"] {
        let case = table.case(id);
        let radians = |key: &str| case.inputs(key).iter().map(|deg| deg.to_radians()).collect::<Vec<_>>();
        let statistic = two_sample::watson_two_sample(&radians("x"), &radians("y")).unwrap().statistic;
        case.check("U2", statistic);
        case.check("published", statistic);
    }
    let case = table.case("circ.watson2.B2_vs_B5_axial");
    let angles = |key: &str| table.case(case.case["inputs"][key].as_str().unwrap()).angles();
    case.check("U2", two_sample::watson_two_sample(&angles("x"), &angles("y")).unwrap().statistic);
}

fn mixtures(table: &Table) {
    let shape = |components| Shape {
        components,
        background: false,
        common_kappa: false,
        equal_shares: false,
        kappa_range: (0.0, 1e5),
    };
    for id in ["circ.vmmix2.turtles_B3", "circ.vmmix2.coal_cleat_B22_doubled", "circ.vmmix2.laths_B2_doubled"]
    {
        let case = table.case(id);
        let sample = Sample::new(&case.angles(), &[]);
        case.check("n", sample.total());
        case.check("loglik_uniform", mixture::even(&sample).ln_likelihood);
        case.check("loglik_1comp", mixture::fit_stepwise(&sample, shape(1)).ln_likelihood);
        let fitted = mixture::fit_stepwise(&sample, shape(2));
        case.check("loglik", fitted.ln_likelihood);
        let mut laws = fitted.components.clone();
        laws.sort_by(|a, b| b.share.total_cmp(&a.share));
        // The cases of doubled angles state their directions as axes.
        let halved = if id.ends_with("doubled") { 0.5 } else { 1.0 };
        for (index, law) in laws.iter().enumerate() {
            case.check_value("w", law.share, case.expected_all("w")[index]);
            case.check_value(
                "mu_deg",
                halved * law.mean_rad.to_degrees(),
                case.expected_all("mu_deg")[index],
            );
            case.check_value("kappa", law.kappa, case.expected_all("kappa")[index]);
        }
    }
    let case = table.case("circ.vmmix2.fixed_params");
    let law = |share, mean: f64, kappa| mixture::Component { share, mean_rad: mean.to_radians(), kappa };
    let w = case.input("w");
    let fixed = Mixture {
        components: vec![
            law(w, case.input("mu1"), case.input("k1")),
            law(1.0 - w, case.input("mu2"), case.input("k2")),
        ],
        background: 0.0,
        ln_likelihood: 0.0,
    };
    let sample = Sample::new(&case.angles(), &[]);
    case.check("loglik", fixed.ln_likelihood_of(&sample));
    let angles = case.angles();
    case.check("loglik", angles.iter().map(|&angle| fixed.density(angle).ln()).sum());
}

fn concentration(table: &Table) {
    let case = table.case("circ.vm_exact_same_data");
    let moments = circular::moments(&case.angles(), &[]).unwrap();
    case.check("kappa", moments.kappa());
    case.check("mu", moments.mean_rad);
    // The approximation other libraries print for the same data; ours is the exact estimate and differs from it.
    let approximate = table.case("circ.published.astropy_vmml");
    approximate.check("mu", moments.mean_rad);
    assert!((moments.kappa() - approximate.expected("kappa")).abs() > 0.006);

    let case = table.case("bessel.scaled");
    for (index, x) in case.inputs("x").into_iter().enumerate() {
        case.check_value("i0e", lay::bessel::i0_scaled(x), case.expected_all("i0e")[index]);
        case.check_value("i1e", lay::bessel::i1_scaled(x), case.expected_all("i1e")[index]);
    }
}

#[test]
fn lengths() {
    let table = Table::open("lengths.json");

    let case = table.case("km.gehan_6mp");
    let lengths: Vec<Length> = case
        .inputs("times")
        .into_iter()
        .zip(case.inputs("event"))
        .map(|(length, event)| Length { length, ended: event == 1.0, weight: 1.0 })
        .collect();
    let curve = survival::kaplan_meier(&lengths);
    let rows: Vec<Vec<f64>> =
        case.case["expected"]["table_t_atrisk_d_S_se"].as_array().unwrap().iter().map(numbers).collect();
    assert_eq!(curve.steps.len(), rows.len());
    for (step, row) in curve.steps.iter().zip(rows) {
        let ours = [step.length, step.at_risk, step.ended, step.survival, step.u];
        ours.iter().zip(row).for_each(|(ours, theirs)| case.check_value("table", *ours, theirs));
    }
    case.check("median", curve.median().unwrap());
    case.check("rmst_to_35", curve.mean_up_to(35.0));
    case.check("exp_mle_mean", survival::exponential_mean(&lengths).unwrap());

    let case = table.case("trace.circ_window");
    let (inside, through) = (case.count("N2"), case.count("N0"));
    let counts = Counts { through, inside, one_end: case.count("N") - inside - through };
    let radius = case.input("c");
    case.check("n_intersections", counts.crossings() as f64);
    case.check("m_endpoints", counts.ends() as f64);
    case.check("mean", window::mean_length_circle(counts, radius).unwrap());
    case.check("P21", window::intensity_p21_circle(counts, radius));
    case.check("P20", window::intensity_p20_circle(counts, radius));

    for id in ["trace.pahl", "trace.pahl_vertical"] {
        let case = table.case(id);
        let (w, h) = (case.input("w"), case.input("h"));
        let (inside, through) = (case.count("N2"), case.count("N0"));
        let counts = Counts { through, inside, one_end: case.count("N") - inside - through };
        let breadth = window::breadth(w, h, 90.0 - case.input("phi_deg_from_vertical"));
        case.check("mean", window::mean_length_rectangle(counts, w * h, breadth).unwrap());
    }

    let case = table.case("trace.laslett_exp_parallel");
    let (w, h) = (case.input("w"), case.input("h"));
    let counts = Counts { through: case.count("N0"), one_end: case.count("N1"), inside: case.count("N2") };
    let breadth = window::breadth(w, h, 90.0 - case.input("phi_deg_from_vertical"));
    case.check("B", breadth);
    let fit = window::exponential_ml(counts, case.input("L_total"), w * h, breadth).unwrap();
    case.check("mean", fit.mean);
    case.check("lambda_mle", 1.0 / fit.mean);
    case.check("rho", fit.density);
    case.check("ratio_2L_over_m", window::mean_length_ratio(counts, case.input("L_total")).unwrap());

    circle_scene(table.case("trace.circle_scene"));

    let case = table.case("terzaghi.weights");
    for (angle, weight) in case.inputs("angle_deg").into_iter().zip(case.expected_all("w")) {
        case.check_value("w", window::transect_weight(angle, 5.0), weight);
    }
    table.all_read();
}

fn circle_scene(case: Case) {
    let radius = case.input("radius");
    let mut counts = Counts::default();
    let mut visible = 0.0;
    for segment in case.case["inputs"]["segments"].as_array().unwrap() {
        let ends = pairs(segment);
        let inside = |point: [f64; 2]| f64::hypot(point[0], point[1]) < radius;
        counts.add(u8::from(inside(ends[0])) + u8::from(inside(ends[1])));
        // Part of the segment inside, by the two roots of |a + t(b − a)| = r.
        let step = [ends[1][0] - ends[0][0], ends[1][1] - ends[0][1]];
        let (a, b) = (step[0] * step[0] + step[1] * step[1], ends[0][0] * step[0] + ends[0][1] * step[1]);
        let root = (b * b - a * (ends[0][0].powi(2) + ends[0][1].powi(2) - radius * radius)).sqrt();
        let (from, to) = (((-b - root) / a).max(0.0), ((-b + root) / a).min(1.0));
        visible += (to - from) * a.sqrt();
    }
    assert_eq!((counts.through, counts.one_end, counts.inside), (2, 3, 3));
    case.check("N0", counts.through as f64);
    case.check("L_inside", visible);
    case.check("P20", window::intensity_p20_circle(counts, radius));
    case.check("P21_circular_scanline", window::intensity_p21_circle(counts, radius));
    case.check("P21_areal", window::intensity_p21(visible, std::f64::consts::PI * radius * radius));
    case.check("mean_ZE", window::mean_length_circle(counts, radius).unwrap());
    case.check("mean_2L_m", window::mean_length_ratio(counts, visible).unwrap());
}

#[test]
fn circles() {
    let table = Table::open("circles.json");
    for id in ["fit.circle_gander1994", "fit.circle_arc3deg"] {
        let case = table.case(id);
        let points = pairs(&case.case["inputs"]["points"]);
        let fits = [
            ("kasa", circle::kasa(&points)),
            ("pratt", circle::pratt(&points)),
            ("taubin", circle::taubin(&points)),
            ("geometric", circle::geometric(&points)),
            ("algebraic_unit_norm", circle::unit_norm(&points)),
        ];
        for (key, fit) in fits {
            let fit = fit.unwrap();
            let expected = case.expected_all(key);
            // A centre near the origin has no relative precision: the radius sets the scale of all three.
            for (ours, theirs) in [fit.x, fit.y, fit.radius].into_iter().zip(&expected) {
                let off = (ours - theirs).abs() / expected[2];
                assert!(off <= case.case["tol"].as_f64().unwrap(), "{id} {key}: {fit:?} for {expected:?}");
            }
        }
        case.check("geometric_ss", circle::geometric(&points).unwrap().squared_distances(&points));
    }
    for case in table.starting("sagitta.") {
        let (radius, chord) = (case.input("R"), case.input("L"));
        let sagitta = curvature::sagitta(radius, chord).unwrap();
        case.check("exact", sagitta);
        case.check("approx_L2_8R", chord * chord / (8.0 * radius));
        case.check("R_back", curvature::radius_from_sagitta(sagitta, chord).unwrap());
    }
    for (id, function) in [
        ("curv.variance", curvature::variance as fn(usize, f64, f64) -> Option<f64>),
        ("slope.variance", curvature::slope_variance),
    ] {
        let case = table.case(id);
        for (points, variance) in case.inputs("N").into_iter().zip(case.expected_all("var")) {
            case.check_value(
                "var",
                function(points as usize, case.input("sigma"), case.input("L")).unwrap(),
                variance,
            );
        }
    }
    for (id, energy) in [
        ("crlb.edge", curvature::edge_slope_energy as fn(f64, f64) -> f64),
        ("crlb.ridge", curvature::ridge_slope_energy),
    ] {
        let case = table.case(id);
        let energy = energy(case.input("A"), case.input("s_px"));
        case.check("int_fprime2", energy);
        let bound = curvature::bound(energy, case.input("L_px"), case.input("noise_sd"));
        case.check("sd_offset_px", bound.offset_px);
        case.check("sd_angle_rad", bound.angle_rad);
        case.check("sd_angle_deg", bound.angle_rad.to_degrees());
        // The pixel-grid information the sheet computed beside it agrees within half a per cent.
        assert!((bound.angle_rad / case.expected("numeric_sd_angle") - 1.0).abs() < 0.006);
        if let Some(curvature) = case.case["expected"]["sd_curvature_per_px"].as_f64() {
            case.check_value("sd_curvature_per_px", bound.curvature_per_px, curvature);
        }
    }
    table.all_read();
}

#[test]
fn spacings() {
    let table = Table::open("spacing.json");
    for id in ["spacing.poisson_like", "spacing.regular", "spacing.clustered"] {
        let case = table.case(id);
        let gaps = spacing::gap_statistics(&case.inputs("spacings")).unwrap();
        case.check("n", gaps.count as f64);
        case.check("mean", gaps.mean);
        case.check("cv_ddof1", gaps.variation);
        case.check("lilliefors_D", gaps.lilliefors);
        case.check("anderson_A2_scipy", gaps.anderson_darling);
        case.check("moran_M", gaps.moran);
        case.check("moran_df", gaps.count as f64 - 1.0);
        case.check("moran_p_two_sided", gaps.moran_p());
        case.check("greenwood_G", gaps.greenwood);
        case.check("greenwood_E_exp", gaps.greenwood_expected());
    }
    for case in table.starting("spacing.cv_null_") {
        let variations = spacing::strewn_variations(case.count("n"), 200_000, 7);
        let quantile = |share: f64| variations[(share * variations.len() as f64) as usize];
        case.check("mean", variations.iter().sum::<f64>() / variations.len() as f64);
        case.check("q025", quantile(0.025));
        case.check("q975", quantile(0.975));
    }
    let case = table.case("spacing.ks_positions");
    let (distance, p) = spacing::position_test(&case.inputs("positions"), case.input("L")).unwrap();
    case.check("D", distance);
    case.check("p", p);
    table.all_read();
}

#[test]
fn uncertainty() {
    let table = Table::open("uncertainty.json");

    let case = table.case("gum.H1");
    let u = case.inputs("u_nm");
    let combined = u.iter().map(|u| u * u).sum::<f64>().sqrt();
    case.check("uc", combined);
    case.check("u_d", case.inputs("d_parts_nm").iter().map(|u| u * u).sum::<f64>().sqrt());
    let degrees = lay::effective_degrees(&u, &case.inputs("nu"));
    case.check("nu_eff", degrees);
    // The GUM takes the next lower whole number.
    assert_eq!(degrees.floor(), case.case["expected"]["published"]["nu_eff"].as_f64().unwrap());
    assert_eq!(combined.round(), case.case["expected"]["published"]["uc"].as_f64().unwrap());

    let case = table.case("gum.kfactors");
    for degrees in case.inputs("nu") {
        case.check(&format!("k95_nu{degrees}"), lay::coverage_factor_95(degrees));
    }
    case.check("k95_inf", lay::coverage_factor_95(f64::INFINITY));

    let case = table.case("scale.pixel");
    let scale = case.input("L_um") / case.input("N_px");
    let relative = (case.input("uL") / case.input("L_um")).hypot(case.input("uN") / case.input("N_px"));
    case.check("scale_um_per_px", scale);
    case.check("u_rel", relative);
    let length = UmPerPx::new(scale, scale * relative)
        .unwrap()
        .micrometres(Measured { value: case.input("length_px"), u: case.input("u_px") });
    case.check("length_um", length.value);
    case.check("u_length", length.u);
    table.all_read();
}
