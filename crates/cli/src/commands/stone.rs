//! `rubstone stone`.

use std::path::PathBuf;

use examine::{
    ExamineError, FaceQuestion, LAWS_CAUTION, Motion, PanelInput, StoneKind, StoneQuestion, WorkQuestion,
    graded_panel, known_stone, stone, stone_examination,
};
use quantity::Measured;
use wire::panels::PanelGrit;
use wire::stone::{GrainsForm, GritForm, StoneForm, ToolForm};

use super::json;
use crate::args::Stone;
use crate::outcome::{About, Outcome, Stop, open};
use crate::say;

pub fn run(args: &Stone) -> Result<Outcome, Stop> {
    let pair = |values: &Option<Vec<f64>>| match values.as_deref() {
        Some([low, high]) => Some([*low, *high]),
        _ => None,
    };
    let work = args.volume_cm3.zip(pair(&args.rate_cm3_per_h)).map(|(value, rate_cm3_per_h)| WorkQuestion {
        volume_cm3: Measured { value, u: args.u_volume_cm3 },
        rate_cm3_per_h,
    });
    let face = args.area_cm2.zip(pair(&args.rate_cm2_per_h)).map(|(value, rate_cm2_per_h)| FaceQuestion {
        area_cm2: Measured { value, u: args.u_area_cm2 },
        rate_cm2_per_h,
    });
    let motion = pair(&args.load_n)
        .zip(pair(&args.speed_m_per_s))
        .map(|(load_n, speed_m_per_s)| Motion { load_n, speed_m_per_s });
    let question = StoneQuestion {
        kind: kind(args)?,
        tool: args.tool.clone(),
        abrasive: args.abrasive.clone(),
        widths_um: pair(&args.width_um),
        width_ratio: pair(&args.ratio),
        panels: args.panels.iter().map(|text| panel(text)).collect::<Result<_, _>>()?,
        grit: args.grit.clone(),
        work,
        face,
        motion,
    };
    let answer = match &args.keep {
        Some(folder) => stone_examination(&open(folder)?, &question).about(folder)?.answer,
        None => stone(&question)?,
    };
    if args.json {
        json!(&answer);
        return Ok(Outcome::default());
    }
    let asked_nothing = question.kind.is_none()
        && question.widths_um.is_none()
        && question.grit.is_none()
        && question.work.is_none()
        && question.face.is_none()
        && question.motion.is_none();
    if asked_nothing {
        let [rocks, tools, abrasives] = known_stone();
        say::result(&format!("rocks: {}", rocks.join(", ")));
        say::result(&format!("tools: {}", tools.join(", ")));
        say::result(&format!("abrasives: {}", abrasives.join(", ")));
        say::result("ask, for example: rubstone stone --rock diorite --tool \"annealed copper\"");
        return Ok(Outcome::default());
    }
    answer.tools.iter().for_each(say_tool);
    answer.grains.iter().for_each(say_grains);
    answer.grit.iter().for_each(say_grit);
    answer.work.iter().for_each(|work| say::result(&work.words));
    answer.face.iter().for_each(|face| say::result(&face.words));
    say_laws(&answer);
    answer.cautions.iter().for_each(|caution| say::result(caution));
    Ok(Outcome::default())
}

/// The stone as the options give it.
fn kind(args: &Stone) -> Result<Option<StoneKind>, Stop> {
    if let Some(rock) = &args.rock {
        return Ok(Some(StoneKind::Rock(rock.clone())));
    }
    let share = |written: &String| {
        let (name, share) = written.split_once('=')?;
        Some((name.trim().to_owned(), share.trim().parse().ok()?))
    };
    let shares: Vec<(String, f64)> = args
        .minerals
        .iter()
        .map(|written| {
            share(written).ok_or_else(|| {
                ExamineError::request(format!(
                    "'{written}' is no mineral with its share; write it like quartz=0.3"
                ))
            })
        })
        .collect::<Result<_, _>>()?;
    Ok((!shares.is_empty()).then_some(StoneKind::Minerals(shares)))
}

/// A panel of known grit as it is typed: GRADE=INPUT.
fn panel(text: &str) -> Result<PanelGrit, Stop> {
    let (grade, input) = super::panel::split(text, "P400=panel-3")?;
    let path = PathBuf::from(input);
    graded_panel(grade, &PanelInput::Path(path.clone())).about(&path)
}

fn say_laws(answer: &StoneForm) {
    for law in &answer.laws {
        say::result(&format!("{} ({}; {}): {}", law.law, law.coefficient_words, law.source, law.rate_words));
    }
    if !answer.laws.is_empty() {
        say::result(LAWS_CAUTION);
    }
}

fn say_grit(grit: &GritForm) {
    say::result(&format!(
        "{}: grains of {:.1} to {:.1} µm ({}); scratches of {:.1} to {:.1} µm",
        grit.grade, grit.low_um, grit.high_um, grit.source, grit.scratch_um[0], grit.scratch_um[1]
    ));
    grit.others.iter().for_each(|other| say::result(&format!("    {}", other.caution)));
    say::result(&grit.assumption);
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
