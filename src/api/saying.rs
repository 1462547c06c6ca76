//! What the command line prints. Where the reader of a pipe has left, as in `ledgerboard demo | head`, the command goes on
//! without printing; the standard macros would end it in the middle.

use std::fmt::Display;
use std::io::{self, Write};

/// A line of the command's result.
pub(super) fn say(line: impl Display) {
    unless_nobody_reads(writeln!(io::stdout().lock(), "{line}"));
}

/// A line beside the result: progress, a warning, a failure.
pub(super) fn remark(line: impl Display) {
    unless_nobody_reads(writeln!(io::stderr().lock(), "{line}"));
}

fn unless_nobody_reads(written: io::Result<()>) {
    if let Err(error) = written {
        tracing::debug!(%error, "a line could not be printed");
    }
}
