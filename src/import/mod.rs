//! Other loggers' CSV into captures.
