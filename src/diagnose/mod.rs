//! The judgement: what each cause predicts, scored against what was read.
