//! Tokens: how one is written, and how far it reaches. The random bits come from outside.

use sha2::{Digest, Sha256};

use super::named::named;

named! {
    /// How far a token reaches; each scope includes the ones before it.
    pub enum Scope {
        Read => "read",
        Record => "record",
        Close => "close",
        Admin => "admin",
    }
}

/// The alphabet of base 62, without signs that a double click would stop at.
const DIGITS: &[u8; 62] = b"0123456789ABCDEFGHIJKLMNOPQRSTUVWXYZabcdefghijklmnopqrstuvwxyz";
const PREFIX: &str = "lbt_";

/// What is kept of a token.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct TokenHash([u8; 32]);

impl TokenHash {
    /// The hash of a token somebody shows; none where it is not even written like one, so that slips are told
    /// apart without a look into the database.
    pub fn of_shown(token: &str) -> Option<Self> {
        let body = token.strip_prefix(PREFIX)?;
        let (secret, checksum) = body.split_at_checked(body.len().checked_sub(6)?)?;
        (secret.len() == 32 && checksum_of(secret) == checksum).then(|| Self(Sha256::digest(token).into()))
    }

    pub const fn bytes(&self) -> &[u8; 32] {
        &self.0
    }
}

/// Writes a token from 32 random bytes: 32 signs of base 62 carry more than 160 bits, six more are a checksum.
pub fn write_token(random: &[u8; 32]) -> String {
    let secret: String = random.iter().map(|byte| sign(u32::from(*byte))).collect();
    format!("{PREFIX}{secret}{}", checksum_of(&secret))
}

fn sign(value: u32) -> char {
    usize::try_from(value % 62).ok().and_then(|place| DIGITS.get(place)).copied().map_or('0', char::from)
}

fn checksum_of(secret: &str) -> String {
    Sha256::digest(secret.as_bytes()).iter().take(6).map(|byte| sign(u32::from(*byte))).collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_token_as_it_was_shown_is_recognised_and_a_slip_of_the_pen_is_not() {
        let token = write_token(&[7; 32]);
        assert!(TokenHash::of_shown(&token).is_some());
        let slip = token.replacen('7', "8", 1);
        assert_ne!(slip, token);
        assert!(TokenHash::of_shown(&slip).is_none());
        assert!(TokenHash::of_shown("lbt_").is_none());
        assert!(TokenHash::of_shown("").is_none());
    }

    #[test]
    fn each_scope_includes_the_ones_before_it() {
        assert!(Scope::Read < Scope::Record && Scope::Record < Scope::Close && Scope::Close < Scope::Admin);
    }
}
