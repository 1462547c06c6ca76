//! A refusal: what the person may mend. It says field, finding and remedy, and carries every finding at once.

use std::fmt::{self, Debug, Display};

#[cfg(test)]
mod tests;

/// What sort of answer a finding deserves.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Standing {
    /// The request itself is wrong.
    Invalid,
    /// The request is fine, but the books are not in a state that allows it.
    Conflict,
    /// The request is fine, but what it means to change was changed by somebody else meanwhile.
    Stale,
}

/// One finding in words: what was found and what to do about it.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Said {
    pub standing: Standing,
    pub detail: String,
    pub remedy: String,
}

impl Said {
    /// The request has to change.
    pub fn invalid(detail: impl Into<String>, remedy: impl Into<String>) -> Self {
        Self { standing: Standing::Invalid, detail: detail.into(), remedy: remedy.into() }
    }

    /// The books have to change first.
    pub fn conflict(detail: impl Into<String>, remedy: impl Into<String>) -> Self {
        Self { standing: Standing::Conflict, detail: detail.into(), remedy: remedy.into() }
    }

    /// The person has to look again first.
    pub fn stale(detail: impl Into<String>, remedy: impl Into<String>) -> Self {
        Self { standing: Standing::Stale, detail: detail.into(), remedy: remedy.into() }
    }
}

/// Each word of the trade has a small enum of the reasons it refuses for; this puts them into words.
pub trait Explain: Debug + Send + Sync {
    fn say(&self) -> Said;
}

/// A reason and the place in the request that it is about (RFC 6901 JSON Pointer, empty for the whole).
#[derive(Debug)]
pub struct Finding {
    pub pointer: String,
    why: Box<dyn Explain>,
}

impl Finding {
    pub fn said(&self) -> Said {
        self.why.say()
    }
}

/// One or more findings; never empty.
#[derive(Debug)]
pub struct Refusal {
    first: Finding,
    rest: Vec<Finding>,
}

impl Refusal {
    pub fn new(pointer: impl Into<String>, why: impl Explain + 'static) -> Self {
        Self { first: Finding { pointer: pointer.into(), why: Box::new(why) }, rest: Vec::new() }
    }

    pub fn findings(&self) -> impl Iterator<Item = &Finding> {
        std::iter::once(&self.first).chain(&self.rest)
    }

    /// Conflict or stale only if nothing in the request itself is wrong.
    pub fn standing(&self) -> Standing {
        let all = |standing| self.findings().all(|finding| finding.said().standing == standing);
        if all(Standing::Stale) {
            Standing::Stale
        } else if self.findings().any(|finding| finding.said().standing == Standing::Invalid) {
            Standing::Invalid
        } else {
            Standing::Conflict
        }
    }

    fn join(mut self, other: Refusal) -> Refusal {
        self.rest.push(other.first);
        self.rest.extend(other.rest);
        self
    }

    /// Puts `parent` before every pointer: a line's finding becomes the receipt's.
    pub fn under(mut self, parent: &str) -> Refusal {
        for finding in std::iter::once(&mut self.first).chain(&mut self.rest) {
            finding.pointer = format!("{parent}{}", finding.pointer);
        }
        self
    }
}

impl Display for Refusal {
    fn fmt(&self, out: &mut fmt::Formatter<'_>) -> fmt::Result {
        for (place, finding) in self.findings().enumerate() {
            let said = finding.said();
            let gap = if place == 0 { "" } else { "; " };
            write!(out, "{gap}{}: {} ({})", finding.pointer, said.detail, said.remedy)?;
        }
        Ok(())
    }
}

impl std::error::Error for Refusal {}

impl<W: Explain + 'static> From<W> for Refusal {
    fn from(why: W) -> Self {
        Refusal::new("", why)
    }
}

/// Says where in the request a failed result belongs.
pub trait At<T> {
    fn at(self, pointer: &str) -> Result<T, Refusal>;
}

impl<T, W: Into<Refusal>> At<T> for Result<T, W> {
    fn at(self, pointer: &str) -> Result<T, Refusal> {
        self.map_err(|why| why.into().under(pointer))
    }
}

/// Gathers findings so that the person sees all of them in one answer.
#[derive(Debug, Default)]
pub struct Findings(Option<Refusal>);

impl Findings {
    pub fn new() -> Self {
        Self::default()
    }

    pub fn add(&mut self, refusal: impl Into<Refusal>) {
        let refusal = refusal.into();
        self.0 = Some(match self.0.take() {
            Some(before) => before.join(refusal),
            None => refusal,
        });
    }

    /// The value, or none with its finding kept.
    pub fn keep<T>(&mut self, result: Result<T, impl Into<Refusal>>) -> Option<T> {
        match result {
            Ok(value) => Some(value),
            Err(refusal) => {
                self.add(refusal);
                None
            }
        }
    }

    /// # Errors
    /// The findings gathered so far, if there are any.
    pub fn or_refuse(self) -> Result<(), Refusal> {
        self.0.map_or(Ok(()), Err)
    }
}
