//! The stone room.

use serde::Serialize;
use utoipa::ToSchema;

use super::pages::PageForm;
use crate::stones::StoneQuestionForm;

/// What can be asked about the object's stone, and what was answered.
#[derive(Debug, Clone, PartialEq, Serialize, ToSchema)]
pub struct StoneRoomForm {
    /// Rocks that can be chosen.
    pub rocks: Vec<String>,
    /// Tools that can be chosen.
    pub tools: Vec<String>,
    /// Loose abrasives that can be chosen.
    pub abrasives: Vec<String>,
    /// What was asked last, or a question to begin with from what was measured.
    pub question: StoneQuestionForm,
    /// The answer kept, if there is one.
    pub answer: Option<PageForm>,
    /// What the report says of the object's stone; absent where neither rock nor widths are known.
    pub chapter: Option<PageForm>,
    /// Grit scales, a worked example and exposure limits, for looking up.
    pub reference: PageForm,
}
