//! What each kind of problem means and how it is mended, and the page behind its type address that says both.

use actix_web::HttpResponse;
use actix_web::http::header::ContentType;
use maud::{DOCTYPE, html};

use super::{Problem, ProblemKind};

impl ProblemKind {
    pub const fn meaning(self) -> &'static str {
        match self {
            Self::MalformedRequest => {
                "The body is not JSON, or the query or a header is not written as it should be."
            }
            Self::InvalidRequest => "The body is JSON, but fields are missing, unknown or of the wrong form.",
            Self::Refused => "The fields are well formed, but what they say can not be booked.",
            Self::Conflict => "The request is fine, but something recorded before stands in its way.",
            Self::Stale => {
                "The version in If-Match is not the one that stands: somebody changed it since you read it."
            }
            Self::VersionNeeded => {
                "A change says which version it rests on, so that nobody's change is lost; this one does not."
            }
            Self::StillRunning => {
                "A request with the same Idempotency-Key is under way; nothing is done twice."
            }
            Self::Moved => {
                "The books were moved to another server. They can still be read here, and take no more changes."
            }
            Self::NotSignedIn => {
                "The request brings no token, or one that is wrong, revoked or past its end."
            }
            Self::NotAllowed => "The token's scope is too small for this request.",
            Self::NotFound => "There is no such address, or no such thing in the books that the token opens.",
            Self::MethodNotAllowed => "There is such an address, but it does not take that method.",
            Self::NotAcceptable => "The address can not be had in the format that was asked for.",
            Self::TooSlow => {
                "The body came with too long a pause, or too slowly, and was given up. Nothing was recorded."
            }
            Self::TooLarge => "A body may have 1 MiB, unpacked, and a file 10 MiB; this one has more.",
            Self::UnsupportedMediaType => "The body is not marked as something that this address reads.",
            Self::TooMany => "More was asked for in a short time than may be. Nothing was done.",
            Self::Unavailable => {
                "The books can not be reached just now, or too much is under way. Nothing was lost."
            }
            Self::OutcomeUnknown => {
                "PostgreSQL ended or fell silent while it committed this write: it is recorded as a whole or not at all."
            }
            Self::DiskFull => {
                "There is no space left to record anything. Nothing was recorded; what was recorded before is safe."
            }
            Self::Corrupt => "A kept file no longer fits its SHA-256, so it is not handed out.",
            Self::Internal => "This is a fault of the service, not of the request.",
            Self::Other(_) => "The request was not taken; the status says why.",
        }
    }

    /// What the person does about it.
    pub const fn remedy(self) -> &'static str {
        match self {
            Self::MalformedRequest => {
                "Mend what the detail names: quotes, commas and brackets of a body, the form of a parameter or of a \
                 header."
            }
            Self::InvalidRequest => {
                "Each of the errors points at a field and says what fits there; mend them all and send it again."
            }
            Self::Refused => {
                "Each of the errors points at a field and says what to do; mend them all and send it again."
            }
            Self::Conflict => {
                "Do what the errors say about what stands there: take it back, open the period again, or take another \
                 day. Then send it again."
            }
            Self::Stale => {
                "Read it again, see what is different, and send your change with the new ETag in If-Match."
            }
            Self::VersionNeeded => {
                "Read the thing, and send the ETag of that read in If-Match, in its quotes."
            }
            Self::StillRunning => {
                "Wait as long as Retry-After says, and send the same request with the same key again."
            }
            Self::Moved => {
                "Send the request to the address in moved_to, with the same token and the same Idempotency-Key."
            }
            Self::NotSignedIn => {
                "Send Authorization: Bearer with a token of these books; 'ledgerboard token' makes one."
            }
            Self::NotAllowed => {
                "Make a token with the scope that is named ('ledgerboard token --scope'), and use that one."
            }
            Self::NotFound => {
                "Compare the address with the API's document (/docs/), and list what there is: the same address \
                 without the id."
            }
            Self::MethodNotAllowed => "Use one of the methods that the Allow header names.",
            Self::NotAcceptable => "Ask for one of the formats that the API's document names, or for none.",
            Self::TooSlow => "Send the body without a pause of ten seconds, at a kilobyte a second or more.",
            Self::TooLarge => "Send less at a time: a batch in parts, a picture with fewer pixels.",
            Self::UnsupportedMediaType => {
                "Send Content-Type: application/json (a PATCH may say application/merge-patch+json), packed with gzip \
                 or not at all; a document is sent as the kind of file it is."
            }
            Self::TooMany => "Wait as long as Retry-After says; the RateLimit header says how many are left.",
            Self::Unavailable => {
                "Send the same request with the same Idempotency-Key again when Retry-After has passed."
            }
            Self::OutcomeUnknown => {
                "Send the same request with the same Idempotency-Key again: it is recorded once, and you get its answer. \
                 If you sent no key, read the list first, and send it again only if it is not there."
            }
            Self::DiskFull => {
                "Make room on the disk that holds the data folder; within seconds after that, the same request works."
            }
            Self::Corrupt => {
                "Restore the file from a backup; 'ledgerboard verify' lists every file that is not what it was."
            }
            Self::Internal => {
                "A write was made as a whole or not at all: send it again with the same Idempotency-Key. If it comes \
                 again, give the X-Request-Id to whoever runs the service; the log has the details under it."
            }
            Self::Other(_) => {
                "Compare the request with the API's document (/docs/), and send it as it says there."
            }
        }
    }
}

/// The page behind a problem's type address: what it means, and how it is mended.
pub async fn explain(slug: actix_web::web::Path<String>) -> HttpResponse {
    match ProblemKind::ALL.into_iter().find(|kind| kind.names().0 == slug.as_str()) {
        Some(kind) => page(kind),
        None => Problem::new(ProblemKind::NotFound).response(),
    }
}

fn page(kind: ProblemKind) -> HttpResponse {
    let (slug, title) = kind.names();
    let page = html! {
        (DOCTYPE)
        html lang="en" {
            head {
                meta charset="utf-8";
                meta name="viewport" content="width=device-width, initial-scale=1";
                title { (title) " - Ledgerboard" }
                link rel="stylesheet" href="/style.css";
            }
            body { main {
                h1 { (title) }
                p { "A problem of type " code { "/problems/" (slug) } ", " (status_of(kind)) "." }
                h2 id="meaning" { "What it means" }
                p { (kind.meaning()) }
                h2 id="remedy" { "How to mend it" }
                p { (kind.remedy()) }
                p { a href="/docs/" { "The API's document" } " has every address with its fields and its problems." }
            } }
        }
    };
    HttpResponse::Ok()
        .insert_header(ContentType::html())
        .insert_header((
            "Content-Security-Policy",
            "default-src 'none'; style-src 'self'; form-action 'none'; base-uri 'none'; frame-ancestors 'none'",
        ))
        .body(page.into_string())
}

fn status_of(kind: ProblemKind) -> String {
    match kind {
        ProblemKind::Other(_) => "with the status that the answer has".to_owned(),
        known => format!("with the status {}", known.status().as_u16()),
    }
}

#[cfg(test)]
mod tests {
    use std::collections::BTreeSet;

    use super::*;

    #[test]
    fn every_kind_has_an_address_of_its_own_and_says_what_to_do() {
        let slugs: BTreeSet<_> = ProblemKind::ALL.iter().map(|kind| kind.names().0).collect();
        assert_eq!(slugs.len(), ProblemKind::ALL.len());
        for kind in ProblemKind::ALL {
            let (meaning, remedy) = (kind.meaning(), kind.remedy());
            assert!(meaning.ends_with('.') && remedy.ends_with('.') && meaning != remedy, "{kind:?}");
            assert_eq!(*Problem::new(kind).type_, format!("/problems/{}", kind.names().0));
        }
    }
}
