//! The short summary for the terminal.
