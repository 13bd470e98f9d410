//! `rubstone stone`.

use examine::{StoneQuestion, known_stone, stone};
use wire::stone::{GrainsForm, ToolForm};

use super::json;
use crate::args::Stone;
use crate::outcome::{Outcome, Stop};
use crate::say;

pub fn run(args: &Stone) -> Result<Outcome, Stop> {
    let pair = |values: &Option<Vec<f64>>| match values.as_deref() {
        Some([low, high]) => Some([*low, *high]),
        _ => None,
    };
    let question = StoneQuestion {
        rock: args.rock.clone(),
        tool: args.tool.clone(),
        abrasive: args.abrasive.clone(),
        widths_um: pair(&args.width_um),
        width_ratio: pair(&args.ratio),
    };
    let answer = stone(&question)?;
    if args.json {
        json!(&answer);
        return Ok(Outcome::default());
    }
    if question.rock.is_none() && question.widths_um.is_none() {
        let [rocks, tools, abrasives] = known_stone();
        say::result(&format!("rocks: {}", rocks.join(", ")));
        say::result(&format!("tools: {}", tools.join(", ")));
        say::result(&format!("abrasives: {}", abrasives.join(", ")));
        say::result("ask, for example: rubstone stone --rock diorite --tool \"annealed copper\"");
        return Ok(Outcome::default());
    }
    answer.tools.iter().for_each(say_tool);
    answer.grains.iter().for_each(say_grains);
    answer.cautions.iter().for_each(|caution| say::result(caution));
    Ok(Outcome::default())
}

fn say_tool(tool: &ToolForm) {
    let with = tool.abrasive.as_ref().map_or(String::new(), |abrasive| format!(" with {abrasive}"));
    say::result(&format!(
        "{}{with} ({:.0} to {:.0} kgf/mm², {}):",
        tool.tool, tool.hardness_low, tool.hardness_high, tool.hardness_source
    ));
    for mineral in &tool.minerals {
        let abrasive = mineral.by_abrasive.map_or(String::new(), |p| format!(", abrasive {p:.2}"));
        say::result(&format!(
            "    {}: {} (probability: tool {:.2}{abrasive}); Vickers {:.0} to {:.0}, {}",
            mineral.mineral,
            mineral.verdict,
            mineral.by_tool,
            mineral.vickers_low,
            mineral.vickers_high,
            mineral.source
        ));
    }
    tool.sentences.iter().for_each(|sentence| say::result(&format!("    {sentence}")));
}

fn say_grains(grains: &GrainsForm) {
    say::result(&format!(
        "grains of {:.0} to {:.0} µm could leave such scratches",
        grains.low_um, grains.high_um
    ));
    for grades in &grains.grades {
        let numbers: Vec<String> = grades.numbers.iter().map(u32::to_string).collect();
        let numbers = if numbers.is_empty() { "none".to_owned() } else { numbers.join(" ") };
        say::result(&format!("    {}: {numbers} ({})", grades.scale, grades.source));
    }
    say::result(&grains.assumption);
}
