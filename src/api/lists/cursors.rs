//! Cursors: where a page ended, sealed for the list, the filters and the books it is of. What a person alters, or
//! carries to another list, is refused and never read as a place.

use std::fmt::Display;
use std::str::FromStr;

use actix_web::{HttpRequest, web};
use hmac::{Hmac, KeyInit, Mac};
use serde::Deserialize;
use sha2::Sha256;
use uuid::Uuid;

use crate::api::problem::{Problem, ProblemKind};
use crate::store::books::CursorKey;

/// Parts the place from its seal.
const SEAL: char = '~';

/// What is not one of ours, or not of this list.
fn not_ours() -> Problem {
    Problem::new(ProblemKind::MalformedRequest).with(
        "the cursor is not one of ours for this list and these filters; follow the next link of the page before, \
         or leave the cursor out to begin anew",
    )
}

/// A cursor as it was sent. The door has checked its seal before a handler sees it.
#[derive(Clone, Debug, Deserialize)]
#[serde(transparent)]
pub struct SealedCursor(String);

impl SealedCursor {
    /// The place that it seals.
    /// # Errors
    /// The problem to answer with.
    pub fn place<P: FromStr>(&self) -> Result<P, Problem> {
        let (place, _) = self.0.rsplit_once(SEAL).ok_or_else(not_ours)?;
        place.parse().ok().ok_or_else(not_ours)
    }
}

/// The address of the next page on its way.
pub struct NextPage {
    path: String,
    place: String,
    filters: Vec<(String, String)>,
}

impl NextPage {
    pub fn after(path: impl Into<String>, place: impl Display) -> Self {
        Self { path: path.into(), place: place.to_string(), filters: Vec::new() }
    }

    /// Adds a filter, if it was asked for.
    pub fn with(mut self, name: &str, value: Option<impl Display>) -> Self {
        self.filters.extend(value.map(|value| (name.to_owned(), value.to_string())));
        self
    }

    /// The address, with the cursor sealed.
    pub fn sealed(&self, key: &CursorKey) -> String {
        let seal = seal(key, &self.path, &self.place, &self.filters).finalize().into_bytes();
        let mut short = [0; 16];
        short.iter_mut().zip(seal).for_each(|(to, from)| *to = from);
        let mut address =
            format!("{}?cursor={}{SEAL}{}", self.path, self.place, Uuid::from_bytes(short).simple());
        for (name, value) in &self.filters {
            address.push_str(&format!("&{name}={}", query_text(value)));
        }
        address
    }
}

/// HMAC (RFC 2104) with SHA-256 over the list, the place and the filters; each part with its length before it, so that
/// none can pass for the end of another. How many a page shows may change from page to page.
fn seal(key: &CursorKey, path: &str, place: &str, filters: &[(String, String)]) -> Hmac<Sha256> {
    let mut filters: Vec<_> =
        filters.iter().filter(|(name, _)| name != "limit" && name != "cursor").collect();
    filters.sort();
    let parts = filters.into_iter().flat_map(|(name, value)| [name.as_str(), value.as_str()]);
    let mut mac = Hmac::<Sha256>::new(&padded(key));
    for part in [path, place].into_iter().chain(parts) {
        mac.update(&u64::try_from(part.len()).unwrap_or(u64::MAX).to_be_bytes());
        mac.update(part.as_bytes());
    }
    mac
}

/// A key of 32 bytes in the block of 64 that the algorithm works in: RFC 2104, section 2, fills it up with zeros.
fn padded(key: &CursorKey) -> hmac::digest::Key<Hmac<Sha256>> {
    let mut block = hmac::digest::Key::<Hmac<Sha256>>::default();
    block.iter_mut().zip(key.bytes()).for_each(|(to, from)| *to = *from);
    block
}

/// Refuses a cursor that these books did not seal for this list and these filters.
/// # Errors
/// The problem to answer with.
pub fn checked(request: &HttpRequest, key: &CursorKey) -> Result<(), Problem> {
    // A query that can not be read is the handler's to refuse, in words about its own fields.
    let Ok(asked) = web::Query::<Vec<(String, String)>>::from_query(request.query_string()) else {
        return Ok(());
    };
    let asked = asked.into_inner();
    for (_, cursor) in asked.iter().filter(|(name, _)| name == "cursor") {
        let (place, sealed) = cursor.rsplit_once(SEAL).ok_or_else(not_ours)?;
        let sealed = Uuid::try_parse(sealed).ok().ok_or_else(not_ours)?;
        let mac = seal(key, request.path(), place, &asked);
        mac.verify_truncated_left(sealed.as_bytes()).ok().ok_or_else(not_ours)?;
    }
    Ok(())
}

/// A filter's text inside an address (RFC 3986, section 2).
fn query_text(text: &str) -> String {
    let mut written = String::with_capacity(text.len());
    for byte in text.bytes() {
        if byte.is_ascii_alphanumeric() || b"-._~".contains(&byte) {
            written.push(char::from(byte));
        } else {
            written.push_str(&format!("%{byte:02X}"));
        }
    }
    written
}

#[cfg(test)]
mod tests {
    use super::*;

    fn whole(key: &[u8], path: &str) -> String {
        // The place is empty and there are no filters, so the message is two lengths around the path.
        let key: [u8; 32] = key.try_into().unwrap();
        let sealed = seal(&CursorKey::of(key), path, "", &[]).finalize().into_bytes();
        sealed.iter().map(|byte| format!("{byte:02x}")).collect()
    }

    /// Checked with `hmac` and `hashlib` of Python's standard library 3.11:
    /// `hmac.new(bytes([7])*32, (8).to_bytes(8,'big') + b'/v1/list' + (0).to_bytes(8,'big'), 'sha256').hexdigest()`.
    #[test]
    fn a_seal_is_the_hmac_of_list_and_place_with_their_lengths() {
        assert_eq!(
            whole(&[7; 32], "/v1/list"),
            "620d08ccb44f3dbfd84269bb0dbe8593971f1a41c12cc6acf9acb7e4af372a52"
        );
    }

    #[test]
    fn a_page_leads_on_with_its_filters_and_another_key_seals_otherwise() {
        let next = NextPage::after("/v1/tools", "2025-03-01.7")
            .with("from", Some("2025-01-01"))
            .with("limit", Some(3));
        let ours = next.sealed(&CursorKey::of([1; 32]));
        assert!(ours.starts_with("/v1/tools?cursor=2025-03-01.7~"), "{ours}");
        assert!(ours.ends_with("&from=2025-01-01&limit=3"), "{ours}");
        assert_ne!(ours, next.sealed(&CursorKey::of([2; 32])));
    }

    fn asked(address: &str) -> Result<(), Problem> {
        let request = actix_web::test::TestRequest::get().uri(address).to_http_request();
        checked(&request, &CursorKey::of([1; 32]))
    }

    #[test]
    fn what_was_sealed_is_taken_and_what_was_altered_is_not() {
        let next =
            NextPage::after("/v1/tools", "2025-03-01.7").with("label", Some("a & b")).with("limit", Some(3));
        let ours = next.sealed(&CursorKey::of([1; 32]));
        assert!(asked(&ours).is_ok());
        assert!(asked(&ours.replace("limit=3", "limit=200")).is_ok(), "a page may grow");
        assert!(asked("/v1/tools?label=a").is_ok(), "no cursor, nothing to check");
        for altered in [
            ours.replace("2025-03-01.7", "2025-03-01.8"),
            ours.replace("/v1/tools", "/v1/deals"),
            ours.replace("label=a%20%26%20b", "label=a"),
            ours.replace("&label=a%20%26%20b", ""),
            format!("{ours}&from=2025-01-01"),
            ours.replace('~', "~0"),
            ours.replace('~', "."),
            next.sealed(&CursorKey::of([2; 32])),
        ] {
            assert!(asked(&altered).is_err(), "{altered}");
        }
    }
}
