//! Tokens: how one is written, how far it reaches and how long. The random bits and the time come from outside.

use chrono::{DateTime, SubsecRound, TimeDelta, Utc};
use sha2::{Digest, Sha256};
use uuid::Uuid;

use super::ids::BooksId;
use super::named::named;
use super::refusal::{Explain, Refusal, Said};

named! {
    /// How far a token reaches; each scope includes the ones before it.
    pub enum Scope {
        Read => "read",
        Record => "record",
        Close => "close",
        Admin => "admin",
    }
}

/// A token that nobody gave an end to lives a year; none lives longer than that and a day.
const USUAL_LIFE: TimeDelta = TimeDelta::days(365);
const LONGEST_LIFE: TimeDelta = TimeDelta::days(366);
/// How long the old token may go on beside the one that replaces it.
const LONGEST_OVERLAP_HOURS: u32 = 30 * 24;
const USUAL_OVERLAP_HOURS: u32 = 24;

/// What can be wrong with a token that is asked for.
#[derive(Clone, Debug, PartialEq)]
pub enum TokenFinding {
    EndsAlready {
        at: DateTime<Utc>,
    },
    EndsTooLate {
        at: DateTime<Utc>,
        last: DateTime<Utc>,
    },
    OverlapTooLong {
        hours: u32,
    },
    /// Its secret was in the first answer, which is kept without it.
    ShownOnce,
}

impl Explain for TokenFinding {
    fn say(&self) -> Said {
        match self {
            Self::EndsAlready { at } => {
                Said::invalid(format!("{at} has gone by"), "give a later time, or leave it out for a year")
            }
            Self::EndsTooLate { at, last } => Said::invalid(
                format!("{at} is more than a year away"),
                format!("give a time up to {last}; a token can be replaced by a new one before it ends"),
            ),
            Self::OverlapTooLong { hours } => Said::invalid(
                format!("the old token would go on for {hours} hours"),
                format!("give at most {LONGEST_OVERLAP_HOURS} hours; 0 ends it at once"),
            ),
            Self::ShownOnce => Said::conflict(
                "the first request under this Idempotency-Key made the token and showed it; it is not kept",
                "revoke that token, which the list of tokens names, and make another under a new key",
            ),
        }
    }
}

/// When a token ends that is made now, to the second: as asked, within a year; in a year where nobody asks.
/// # Errors
/// [`TokenFinding::EndsAlready`], [`TokenFinding::EndsTooLate`], both at `/expires_at`.
pub fn end_of(asked: Option<DateTime<Utc>>, now: DateTime<Utc>) -> Result<DateTime<Utc>, Refusal> {
    let last = (now + LONGEST_LIFE).trunc_subsecs(0);
    match asked {
        None => Ok((now + USUAL_LIFE).trunc_subsecs(0)),
        Some(at) if at <= now => Err(Refusal::new("/expires_at", TokenFinding::EndsAlready { at })),
        Some(at) if at > last => Err(Refusal::new("/expires_at", TokenFinding::EndsTooLate { at, last })),
        Some(at) => Ok(at.trunc_subsecs(0)),
    }
}

/// When a token ends that is replaced now, to the second: in a day, or after the hours asked for, and never later than it did.
/// # Errors
/// [`TokenFinding::OverlapTooLong`] at `/keep_old_for_hours`.
pub fn end_of_replaced(
    hours: Option<u32>,
    end: Option<DateTime<Utc>>,
    now: DateTime<Utc>,
) -> Result<DateTime<Utc>, Refusal> {
    let hours = hours.unwrap_or(USUAL_OVERLAP_HOURS);
    if hours > LONGEST_OVERLAP_HOURS {
        return Err(Refusal::new("/keep_old_for_hours", TokenFinding::OverlapTooLong { hours }));
    }
    let over = now + TimeDelta::hours(i64::from(hours));
    Ok(end.map_or(over, |end| end.min(over)).trunc_subsecs(0))
}

/// The alphabet of base 62, without signs that a double click would stop at.
const DIGITS: &[u8; 62] = b"0123456789ABCDEFGHIJKLMNOPQRSTUVWXYZabcdefghijklmnopqrstuvwxyz";
const PREFIX: &str = "lbt_";
/// Digits of base 62 for the 128 bits of the books' id: 62^22 is more than 2^128.
const NAME_LENGTH: usize = 22;
const SECRET_LENGTH: usize = 32;
const CHECKSUM_LENGTH: usize = 6;

/// What is kept of a token.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct TokenHash([u8; 32]);

impl TokenHash {
    pub const fn bytes(&self) -> &[u8; 32] {
        &self.0
    }
}

/// A token as somebody shows it: its hash, and the books that its text names.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct ShownToken {
    pub hash: TokenHash,
    /// None in tokens made before 2026-12-01, which the directory looks up by their hash.
    pub books: Option<BooksId>,
}

impl ShownToken {
    /// None where the text is not even written like a token, so that typing errors are found without the database.
    pub fn read(token: &str) -> Option<Self> {
        let body = token.strip_prefix(PREFIX)?;
        let (signed, checksum) = body.split_at_checked(body.len().checked_sub(CHECKSUM_LENGTH)?)?;
        if checksum_of(signed) != checksum {
            return None;
        }
        let books = match signed.len() {
            SECRET_LENGTH => None,
            length if length == NAME_LENGTH + SECRET_LENGTH => Some(read_name(signed.get(..NAME_LENGTH)?)?),
            _ => return None,
        };
        Some(Self { hash: TokenHash(Sha256::digest(token).into()), books })
    }
}

/// Writes a token of those books from 32 random bytes: their id, so that whoever gets the token knows where to look,
/// then 32 digits of base 62 that carry more than 160 bits, then six as a checksum.
pub fn write_token(books: BooksId, random: &[u8; 32]) -> String {
    let secret: String = random.iter().map(|byte| sign(u128::from(*byte))).collect();
    let signed = format!("{}{secret}", write_name(books));
    format!("{PREFIX}{signed}{}", checksum_of(&signed))
}

fn write_name(books: BooksId) -> String {
    let mut rest = books.0.as_u128();
    let mut digits = [' '; NAME_LENGTH];
    for digit in digits.iter_mut().rev() {
        *digit = sign(rest);
        rest /= 62;
    }
    digits.iter().collect()
}

fn read_name(name: &str) -> Option<BooksId> {
    let number = name.bytes().try_fold(0_u128, |number, byte| {
        let digit = DIGITS.iter().position(|one| *one == byte)?;
        number.checked_mul(62)?.checked_add(u128::try_from(digit).ok()?)
    })?;
    Some(BooksId(Uuid::from_u128(number)))
}

fn sign(value: u128) -> char {
    usize::try_from(value % 62).ok().and_then(|place| DIGITS.get(place)).copied().map_or('0', char::from)
}

fn checksum_of(secret: &str) -> String {
    Sha256::digest(secret.as_bytes())
        .iter()
        .take(CHECKSUM_LENGTH)
        .map(|byte| sign(u128::from(*byte)))
        .collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    fn books(number: u128) -> BooksId {
        BooksId(Uuid::from_u128(number))
    }

    #[test]
    fn a_token_is_recognized_as_it_was_shown_and_a_typing_error_is_not() {
        let token = write_token(books(1), &[7; 32]);
        assert!(ShownToken::read(&token).is_some());
        let slip = token.replacen('7', "8", 1);
        assert_ne!(slip, token);
        assert!(ShownToken::read(&slip).is_none());
        assert!(ShownToken::read("lbt_").is_none());
        assert!(ShownToken::read("").is_none());
    }

    #[test]
    fn a_token_names_the_books_it_opens_whatever_their_id() {
        for number in [0, 1, 61, 62, u128::MAX, 0x0190_a1b2_c3d4_7e5f_8a6b_7c8d_9eaf_b0c1] {
            let token = write_token(books(number), &[7; 32]);
            assert_eq!(token.len(), 64);
            assert_eq!(ShownToken::read(&token).unwrap().books, Some(books(number)), "{token}");
        }
        // 62^22 - 1 is more than 128 bits hold; its checksum is right.
        let name = "z".repeat(NAME_LENGTH) + &"7".repeat(SECRET_LENGTH);
        assert!(ShownToken::read(&format!("lbt_{name}{}", checksum_of(&name))).is_none());
    }

    // A token as this program wrote it before tokens named their books; the digest is that of Python's hashlib.
    #[test]
    fn a_token_made_before_tokens_named_their_books_is_still_read() {
        let secret = "7".repeat(SECRET_LENGTH);
        let old = ShownToken::read(&format!("lbt_{secret}{}", checksum_of(&secret))).unwrap();
        assert_eq!(old.books, None);
        let kept: String = old.hash.bytes().iter().map(|byte| format!("{byte:02x}")).collect();
        assert_eq!(kept, "b5e8d13d1e3a26a2ab0c331e33a7c6cee171392884fae0b9dc14df3dc3d0915b");
    }

    proptest::proptest! {
        #[test]
        fn any_text_is_read_as_a_token_or_not_without_a_panic(text in "\\PC{0,80}", tail in "[0-9A-Za-z]{38,60}") {
            let _ = ShownToken::read(&text);
            let _ = ShownToken::read(&format!("lbt_{tail}"));
        }
    }

    fn at(text: &str) -> DateTime<Utc> {
        text.parse().unwrap()
    }

    fn said(refusal: Result<DateTime<Utc>, Refusal>) -> String {
        let refusal = refusal.unwrap_err();
        let finding = refusal.findings().next().unwrap();
        format!("{}: {}", finding.pointer, finding.said().detail)
    }

    #[test]
    fn a_token_lives_a_year_unless_an_earlier_end_is_asked_for() {
        let now = at("2025-03-01T10:00:00Z");
        assert_eq!(end_of(None, now).unwrap(), at("2026-03-01T10:00:00Z"));
        assert_eq!(end_of(Some(at("2025-04-01T00:00:00Z")), now).unwrap(), at("2025-04-01T00:00:00Z"));
        assert_eq!(end_of(Some(at("2026-03-02T10:00:00Z")), now).unwrap(), at("2026-03-02T10:00:00Z"));
        let odd = at("2025-03-01T10:00:00.123456789Z");
        assert_eq!(end_of(None, odd).unwrap(), at("2026-03-01T10:00:00Z"), "nobody reads a part of a second");
        assert_eq!(end_of(Some(at("2025-04-01T00:00:00.9Z")), odd).unwrap(), at("2025-04-01T00:00:00Z"));
        assert_eq!(end_of_replaced(None, None, odd).unwrap(), at("2025-03-02T10:00:00Z"));
        assert_eq!(said(end_of(Some(now), now)), "/expires_at: 2025-03-01 10:00:00 UTC has gone by");
        assert_eq!(
            said(end_of(Some(at("2026-03-02T10:00:01Z")), now)),
            "/expires_at: 2026-03-02 10:00:01 UTC is more than a year away"
        );
    }

    #[test]
    fn a_replaced_token_goes_on_for_a_day_and_never_longer_than_it_would_have() {
        let now = at("2025-03-01T10:00:00Z");
        assert_eq!(end_of_replaced(None, None, now).unwrap(), at("2025-03-02T10:00:00Z"));
        assert_eq!(end_of_replaced(Some(0), None, now).unwrap(), now);
        let soon = at("2025-03-01T11:00:00Z");
        assert_eq!(end_of_replaced(Some(2), Some(soon), now).unwrap(), soon);
        assert_eq!(end_of_replaced(Some(720), None, now).unwrap(), at("2025-03-31T10:00:00Z"));
        assert_eq!(
            said(end_of_replaced(Some(721), None, now)),
            "/keep_old_for_hours: the old token would go on for 721 hours"
        );
    }

    #[test]
    fn each_scope_includes_the_ones_before_it() {
        assert!(Scope::Read < Scope::Record && Scope::Record < Scope::Close && Scope::Close < Scope::Admin);
    }
}
