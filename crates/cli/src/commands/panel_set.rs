//! `rubstone panel set`.

use std::path::Path;

use examine::{NamedPanel, add_panel, check_kept_panels, forms, remove_panel};
use wire::answers::PanelSetAnswer;

use super::json;
use super::panel::{named_panel, say_check};
use crate::outcome::{About, Outcome, Stop, open};
use crate::progress::Progress;
use crate::say;

/// What is done with the panels that an examination keeps.
pub struct Wanted<'a> {
    pub examination: &'a Path,
    pub add: &'a [String],
    /// The grit that those added were finished with.
    pub grit: Option<&'a str>,
    pub remove: &'a [u32],
    /// Leave each out in turn: whether panels then replace the models, and the seed.
    pub check: Option<(bool, u64)>,
    pub json: bool,
}

pub fn run(wanted: &Wanted) -> Result<Outcome, Stop> {
    let examination = open(wanted.examination)?;
    let added = wanted.add.iter().map(|text| named_panel(text)).collect::<Result<Vec<NamedPanel>, _>>()?;
    for id in wanted.remove {
        remove_panel(&examination, *id)?;
    }
    for panel in added {
        add_panel(&examination, panel, wanted.grit)?;
    }
    let check = match wanted.check {
        Some((replace, seed)) => {
            let kept = check_kept_panels(&examination, replace, seed, &Progress::new());
            Some(kept.about(wanted.examination)?.answer)
        }
        None => None,
    };
    let panels = forms::panels(&examination)?.panels;
    if wanted.json {
        json!(&PanelSetAnswer { schema: "rubstone.panel-set/1", panels, check });
        return Ok(Outcome::default());
    }
    if panels.is_empty() {
        say::result("no panels yet; add one: rubstone panel set EXAMINATION --add FINISH=INPUT");
    }
    for panel in &panels {
        let grit = if panel.grit.is_empty() { String::new() } else { format!("; {}", panel.grit) };
        say::result(&format!("{}: {}, {}; {}{grit}", panel.id, panel.name, panel.finish, panel.source));
    }
    check.iter().for_each(say_check);
    Ok(Outcome::default())
}
