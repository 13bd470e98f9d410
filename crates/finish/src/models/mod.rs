//! Ways of finishing as kinematic models: each draws the strokes it would leave in a field.
