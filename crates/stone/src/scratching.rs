//! What could scratch what, mineral by mineral.

use crate::{Material, Mineral, Range, RockPart};

/// How surely something scratches a mineral.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub enum Verdict {
    /// Probability below 0.1.
    Hardly,
    /// Between.
    Partly,
    /// Probability above 0.9.
    Clearly,
}

/// Probabilities that part the verdicts (our choice).
const HARDLY_BELOW: f64 = 0.1;
const CLEARLY_ABOVE: f64 = 0.9;

/// Hardness ratios between which an abrasive begins to mark: below, wear falls by orders of magnitude.
///
/// # Source
/// Rule of thumb of abrasive wear (Richardson; Hutchings, Tribology), ratio about 1.2 and 0.7–0.8; from memory, source
/// not seen.
const RATIO: [f64; 2] = [0.8, 1.2];

/// Answer for one mineral of a rock.
#[derive(Debug, Clone, PartialEq)]
pub struct MineralAnswer {
    /// The mineral.
    pub mineral: &'static Mineral,
    /// Its usual share of the rock, percent, lowest and highest.
    pub share_percent: [f64; 2],
    /// Probability that the tool alone scratches it.
    pub by_tool: f64,
    /// Probability that the abrasive does, if one is used.
    pub by_abrasive: Option<f64>,
    /// The verdict on the two together.
    pub verdict: Verdict,
}

/// What a tool, with or without a loose abrasive, could scratch of a rock.
#[derive(Debug, Clone, PartialEq)]
pub struct Scratching {
    /// Mineral by mineral, in the order of the rock.
    pub minerals: Vec<MineralAnswer>,
    /// In words.
    pub sentences: Vec<String>,
}

/// Probability that something of hardness in the one range scratches something of hardness in the other: both are
/// taken as equally likely anywhere in their ranges, and so is the ratio at which marking begins, between 0.8 and 1.2.
#[must_use]
pub fn probability(harder: &Range, softer: &Range) -> f64 {
    /// Middle points of each range: the answer is good to better than a percent.
    const STEPS: usize = 64;
    let place =
        |range: &Range, k: usize| range.low + (range.high - range.low) * (k as f64 + 0.5) / STEPS as f64;
    let mut sum = 0.0;
    for a in 0..STEPS {
        for m in 0..STEPS {
            let ratio = place(harder, a) / place(softer, m);
            sum += ((ratio - RATIO[0]) / (RATIO[1] - RATIO[0])).clamp(0.0, 1.0);
        }
    }
    sum / (STEPS * STEPS) as f64
}

/// The verdict of a probability.
fn verdict(probability: f64) -> Verdict {
    if probability > CLEARLY_ABOVE {
        Verdict::Clearly
    } else if probability < HARDLY_BELOW {
        Verdict::Hardly
    } else {
        Verdict::Partly
    }
}

/// What a tool could scratch of a stone made of some minerals, alone and with a loose abrasive. `name` is what the sentences
/// call the stone.
#[must_use]
pub fn what_could_scratch(
    tool: &Material,
    loose: Option<&Material>,
    name: &str,
    parts: &[RockPart],
) -> Scratching {
    let minerals: Vec<MineralAnswer> = parts
        .iter()
        .filter_map(|part| {
            let mineral = crate::mineral(part.mineral)?;
            let by_tool = probability(&tool.hardness, &mineral.vickers);
            let by_abrasive = loose.map(|abrasive| probability(&abrasive.hardness, &mineral.vickers));
            let together = by_abrasive.map_or(by_tool, |p| p.max(by_tool));
            Some(MineralAnswer {
                mineral,
                share_percent: [part.low, part.high],
                by_tool,
                by_abrasive,
                verdict: verdict(together),
            })
        })
        .collect();
    let mut sentences = vec![tool_sentence(tool, name, &minerals)];
    sentences.extend(loose.map(|abrasive| abrasive_sentence(tool, abrasive, name, &minerals)));
    sentences.push(
        "Hardness decides what can scratch, not how fast: grain boundaries, cleavage and the way of working count too."
            .to_owned(),
    );
    Scratching { minerals, sentences }
}

fn tool_sentence(tool: &Material, rock: &str, minerals: &[MineralAnswer]) -> String {
    let named = |wanted: Verdict| -> Vec<&str> {
        minerals.iter().filter(|m| verdict(m.by_tool) == wanted).map(|m| m.mineral.name).collect()
    };
    let say = |what: Verdict, word: &str| {
        let names = named(what);
        (!names.is_empty()).then(|| format!("{word} {}", names.join(", ")))
    };
    let parts: Vec<String> =
        [say(Verdict::Clearly, "clearly"), say(Verdict::Partly, "partly"), say(Verdict::Hardly, "hardly")]
            .into_iter()
            .flatten()
            .collect();
    format!("By its own hardness {} scratches of {}: {}.", tool.name, rock, parts.join("; "))
}

fn abrasive_sentence(tool: &Material, abrasive: &Material, rock: &str, minerals: &[MineralAnswer]) -> String {
    let clearly =
        minerals.iter().filter(|m| m.by_abrasive.is_some_and(|p| verdict(p) == Verdict::Clearly)).count();
    format!(
        "With loose {abrasive} the {tool} is only the carrier: a soft tool works by the abrasive, which clearly scratches {clearly} of the {all} minerals of {rock}.",
        abrasive = abrasive.name,
        tool = tool.name,
        all = minerals.len(),
    )
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::{RULES_OF_THUMB, Source, Status, abrasive, rock, tool};

    fn range(low: f64, high: f64) -> Range {
        Range::new(low, high, Source::PRACTICE)
    }

    #[test]
    fn probabilities_of_single_values_follow_the_ratio() {
        for (ratio, expected) in [(0.5, 0.0), (0.8, 0.0), (1.0, 0.5), (1.1, 0.75), (1.2, 1.0), (3.0, 1.0)] {
            let found = probability(&range(ratio, ratio), &range(1.0, 1.0));
            assert!((found - expected).abs() < 1e-12, "{ratio}: {found}");
        }
        let wide = probability(&range(500.0, 1500.0), &range(900.0, 1100.0));
        assert!((0.4..0.6).contains(&wide), "{wide}");
    }

    /// Common practice, no source: a steel tool must be hardened to work diorite, copper and bronze need an abrasive.
    #[test]
    fn the_workshop_knows_its_tools() {
        let diorite = rock("diorite").unwrap();
        let on_plagioclase = |tool: &Material, loose: Option<&Material>| {
            let found = what_could_scratch(tool, loose, diorite.name, diorite.parts);
            found.minerals.into_iter().find(|m| m.mineral.name == "plagioclase").unwrap().verdict
        };
        for soft in
            ["annealed copper", "hammered copper", "annealed bronze", "annealed mild steel", "wrought iron"]
        {
            assert_eq!(on_plagioclase(tool(soft).unwrap(), None), Verdict::Hardly, "{soft}");
        }
        assert_eq!(on_plagioclase(tool("hardened steel").unwrap(), None), Verdict::Partly);
        let copper = tool("annealed copper").unwrap();
        assert_eq!(on_plagioclase(copper, abrasive("natural corundum")), Verdict::Clearly);
        assert_eq!(on_plagioclase(copper, abrasive("quartz sand")), Verdict::Partly);
        let sentences =
            what_could_scratch(copper, abrasive("silicon carbide"), diorite.name, diorite.parts).sentences;
        assert!(sentences[1].contains("only the carrier"), "{sentences:?}");
    }

    /// The same sentences by Mohs numbers: common practice, no source.
    #[test]
    fn rules_of_thumb_lie_where_the_tables_do() {
        let rule = |name: &str| RULES_OF_THUMB.iter().find(|rule| rule.name == name).unwrap();
        assert!(RULES_OF_THUMB.iter().all(|rule| rule.source.status == Status::CommonPractice));
        let diorite = rock("diorite").unwrap().typical();
        let (main, _) = diorite.iter().max_by(|a, b| a.1.total_cmp(&b.1)).unwrap();
        // Said of the rock, true of its main mineral.
        assert_eq!(main.name, "plagioclase");
        assert!((main.mohs.low..=main.mohs.high).contains(&rule("diorite").mohs));
        assert_eq!([rule("copper").mohs, rule("bronze").mohs, rule("modern steel").mohs], [3.0, 4.0, 5.5]);
        assert_eq!(tool("annealed copper").unwrap().mohs.unwrap().middle(), rule("copper").mohs);
        assert_eq!(tool("annealed bronze").unwrap().mohs.unwrap().middle(), rule("bronze").mohs);
    }
}
