//! Problems: what each says over the wire, the page behind its type, and what every address says to a wrong type.
#![cfg(test)]

use std::collections::BTreeSet;
use std::io::{Read, Write};
use std::num::NonZeroU32;

use ledgerboard::api::limits::Limits;
use serde_json::{Value, json};

use crate::wire;
use crate::world::{Caller, Reply, World};

/// The end of a problem's type.
fn kind(reply: &Reply) -> String {
    assert_eq!(reply.header("content-type"), Some("application/problem+json"), "{}", reply.text);
    let problem = reply.json();
    assert_eq!(problem["status"], reply.status, "{problem}");
    problem["type"].as_str().unwrap().strip_prefix("/problems/").unwrap().to_owned()
}

/// Requests that go wrong, each in its way.
fn gone_wrong(world: &World) -> Vec<Reply> {
    let owner = world.owner();
    let party = format!("/v1/parties/{}", owner.has_party("Hollow Oak Timber", "vendor"));
    let reader = owner.post("/v1/tokens", &json!({ "name": "eyes", "scope": "read" }));
    let reader = Caller { token: reader.json()["token"].as_str().unwrap().to_owned(), ..owner.clone() };
    let room = json!({ "name": "The box room", "place": "own_home" });
    let closed = json!({ "through": "2023-01-31", "reason": "looked through" });
    owner.records("/v1/books/closing", closed.clone());
    let unknown = "019af000-0000-7000-8000-000000000001";
    vec![
        owner.post_text("/v1/projects", "{\"name\": ", &[]),
        owner.post("/v1/projects", &json!({ "nonsense": 1 })),
        owner.post("/v1/episodes", &json!({ "title": "Shelves", "project": unknown })),
        owner.post("/v1/books/closing", &closed),
        owner.patch(&party, "\"7\"", &json!({ "note": "" })),
        owner.patch_text(&party, "{}", &[]),
        world.nobody().get("/v1/books"),
        reader.post("/v1/projects", &room),
        owner.get(&format!("/v1/projects/{unknown}")),
        owner.patch("/v1/books", "\"1\"", &json!({})),
        owner.get_accepting("/v1/tax-years/2025/summary", "image/png"),
        owner.post("/v1/projects", &json!({ "name": "x".repeat(1024 * 1024) })),
        owner.patch_text(&party, "note=x", &[("Content-Type", "text/plain"), ("If-Match", "\"1\"")]),
    ]
}

#[test]
fn the_type_of_each_problem_leads_to_a_page_that_says_what_it_means_and_how_to_mend_it() {
    let world = World::open();
    let mut seen: BTreeSet<String> = gone_wrong(&world).iter().map(kind).collect();
    let once = Limits { per_minute: NonZeroU32::MIN, ..Limits::default() };
    let limited = World::limited(once);
    assert_eq!(limited.owner().get("/v1/books").status, 200);
    seen.insert(kind(&limited.owner().get("/v1/books")));
    let expected = [
        "conflict",
        "invalid-request",
        "malformed-request",
        "method-not-allowed",
        "not-acceptable",
        "not-allowed",
        "not-found",
        "not-signed-in",
        "refused",
        "stale",
        "too-large",
        "too-many-requests",
        "unsupported-media-type",
        "version-needed",
    ];
    assert_eq!(seen.iter().map(String::as_str).collect::<Vec<_>>(), expected);
    // And those that take a fault or a slow caller; other tests meet them.
    for kind in expected.into_iter().chain([
        "still-running",
        "moved",
        "too-slow",
        "unavailable",
        "outcome-unknown",
        "disk-full",
        "internal",
        "other",
    ]) {
        let page = world.nobody().get(&format!("/problems/{kind}"));
        assert_eq!(page.status, 200, "{kind}");
        assert_eq!(page.header("content-type"), Some("text/html; charset=utf-8"), "{kind}");
        for part in ["id=\"meaning\"", "id=\"remedy\"", &format!("/problems/{kind}<")] {
            assert!(page.text.contains(part), "{kind} has no {part}: {}", page.text);
        }
    }
    // The control: not everything has a page.
    assert_eq!(world.nobody().get("/problems/bad-weather").status, 404);
}

#[test]
fn what_can_not_be_printed_is_refused_and_is_not_handed_back() {
    let world = World::open();
    let owner = world.owner();
    let refused =
        owner.is_refused(422, "/v1/projects", json!({ "name": "The\u{7}room", "place": "own_home" }));
    let (detail, pointer) = ("this text has characters that can not be seen or printed", "/name");
    assert!(refused.error_at(pointer).starts_with(detail), "{}", refused.text);
    let two_lines = json!({ "name": "Room", "place": "own_home", "note": "first\tthis\nthen that" });
    owner.records("/v1/projects", two_lines);
    // A field that nobody knows is named where it stands, and told in plain characters that end.
    let (name, plain) = ("\u{7}".repeat(5_000), "\u{fffd}".repeat(2_000 - "the field ".len()));
    let refused = owner.is_refused(422, "/v1/projects", json!({ name.clone(): 1 }));
    let problem = refused.json();
    let unknown =
        problem["errors"].as_array().unwrap().iter().find(|one| one["pointer"] == format!("/{name}"));
    assert_eq!(unknown.unwrap()["detail"], format!("the field {plain}\u{2026}"));
}

#[test]
fn a_problem_without_findings_says_in_its_detail_what_to_do() {
    let world = World::open();
    for reply in gone_wrong(&world) {
        let problem = reply.json();
        let findings = problem["errors"].as_array().cloned().unwrap_or_default();
        let detail = problem["detail"].as_str().unwrap();
        let told = findings.iter().all(|one| one["remedy"].as_str().is_some_and(|remedy| !remedy.is_empty()));
        assert!(told && (!findings.is_empty() || detail.len() > 20), "{problem:#}");
    }
}

/// The addresses that take a body by that method, with ids that are nobody's.
fn taking_a_body(method: &str) -> Vec<String> {
    let document = ledgerboard::api::document().unwrap();
    let filled = |path: &str| {
        let part = |part: &str| match part {
            "{account}" => "cash".to_owned(),
            "{year}" => "2025".to_owned(),
            "{number}" => "1".to_owned(),
            part if part.starts_with('{') => "019af000-0000-7000-8000-000000000001".to_owned(),
            part => part.to_owned(),
        };
        path.split('/').map(part).collect::<Vec<_>>().join("/")
    };
    let takes =
        |item: &Value| item.pointer(&format!("/{method}/requestBody/content/application~1json")).is_some();
    let paths = document["paths"].as_object().unwrap().iter();
    paths.filter(|(_, item)| takes(item)).map(|(path, _)| filled(path)).collect()
}

#[test]
fn a_body_that_is_not_marked_as_json_is_refused_wherever_json_is_taken() {
    let world = World::open();
    let owner = world.owner();
    let form = ("Content-Type", "application/x-www-form-urlencoded");
    let packed = ("Content-Encoding", "br");
    let json = ("Content-Type", "application/json");
    let (posts, patches) = (taking_a_body("post"), taking_a_body("patch"));
    for path in &posts {
        for headers in [&[form][..], &[packed]] {
            let reply = owner.post_text(path, "{}", headers);
            assert_eq!((reply.status, kind(&reply).as_str()), (415, "unsupported-media-type"), "POST {path}");
        }
    }
    for path in &patches {
        for headers in [&[form, ("If-Match", "\"1\"")][..], &[json, packed, ("If-Match", "\"1\"")]] {
            let reply = owner.patch_text(path, "{}", headers);
            assert_eq!(
                (reply.status, kind(&reply).as_str()),
                (415, "unsupported-media-type"),
                "PATCH {path}"
            );
        }
        // The control: marked as it should be, it is read, and there is no such thing.
        assert_eq!(owner.patch_text(path, "{}", &[json, ("If-Match", "\"1\"")]).status, 404, "{path}");
    }
    assert!(posts.len() > 60 && patches.len() == 7, "{} and {}", posts.len(), patches.len());
}

#[test]
fn what_is_read_only_says_so_to_whoever_writes() {
    let world = World::open();
    for path in ["/", "/style.css", "/problems/refused", "/openapi.json", "/health/live", "/health/ready"] {
        let reply = world.owner().post(path, &json!({}));
        assert_eq!((reply.status, reply.header("allow")), (405, Some("GET, HEAD")), "{path}");
        assert_eq!(kind(&reply), "method-not-allowed");
    }
}

fn gzipped(bytes: &[u8]) -> Vec<u8> {
    let mut packer = flate2::write::GzEncoder::new(Vec::new(), flate2::Compression::best());
    packer.write_all(bytes).unwrap();
    packer.finish().unwrap()
}

/// Sends a body packed with gzip, or what claims to be.
fn sends_packed(world: &World, body: &[u8]) -> wire::Heard {
    let mut stream = wire::connect(&world.address);
    let head = format!(
        "POST /v1/projects HTTP/1.1\r\nHost: here\r\nAuthorization: Bearer {}\r\n\
         Content-Type: application/json\r\nContent-Encoding: gzip\r\nContent-Length: {}\r\n\r\n",
        world.owner().token,
        body.len()
    );
    stream.write_all(head.as_bytes()).unwrap();
    stream.write_all(body).unwrap();
    wire::hear(&mut stream).unwrap()
}

#[test]
fn a_body_packed_with_gzip_is_read_and_its_limit_counts_unpacked() {
    let world = World::open();
    let room = json!({ "name": "The cellar", "place": "own_home" }).to_string();
    let heard = sends_packed(&world, &gzipped(room.as_bytes()));
    assert_eq!(heard.status, 201, "{}", heard.body);
    assert_eq!(world.owner().reads("/v1/projects")["items"][0]["text"], "The cellar");
    let claims = sends_packed(&world, room.as_bytes());
    assert_eq!((claims.status, claims.json()["type"].as_str()), (400, Some("/problems/malformed-request")));
    let long = format!("{room}{}", " ".repeat(8 * 1024 * 1024));
    let bomb = gzipped(long.as_bytes());
    assert!(bomb.len() < 64 * 1024, "{}", bomb.len());
    assert_eq!(sends_packed(&world, &bomb).status, 413);
    assert_eq!(world.count("SELECT count(*) FROM projects"), 1);
}

#[test]
fn a_long_answer_is_packed_for_whoever_asks() {
    let world = World::open();
    let asked = |encoding: &str| {
        let request = ureq::get(format!("{}/openapi.json", world.address));
        let mut answer = request.header("Accept-Encoding", encoding).call().unwrap();
        let told = |name: &str| answer.headers().get(name).map(|value| value.to_str().unwrap().to_owned());
        (told("content-encoding"), told("vary"), answer.body_mut().read_to_vec().unwrap())
    };
    let (encoding, vary, packed) = asked("gzip");
    assert_eq!(encoding.as_deref(), Some("gzip"));
    assert!(vary.is_some_and(|vary| vary.eq_ignore_ascii_case("accept-encoding")));
    let (encoding, _, plain) = asked("identity");
    assert_eq!(encoding, None);
    assert!(packed.len() * 4 < plain.len(), "{} against {}", packed.len(), plain.len());
    let mut unpacked = Vec::new();
    flate2::read::GzDecoder::new(packed.as_slice()).read_to_end(&mut unpacked).unwrap();
    assert!(unpacked == plain, "the same document either way");
}

// RFC 9110, section 8.8.3: a strong tag is of one form of a thing, to the byte.
#[test]
fn what_has_a_tag_is_the_same_to_the_byte_whatever_packing_is_asked_for() {
    let world = World::open();
    let owner = world.owner();
    let project = owner.has_project(&"The reading room ".repeat(10));
    let asked = |path: &str, encoding: &str| {
        let request = ureq::get(format!("{}{path}", world.address));
        let request = request.header("Authorization", format!("Bearer {}", owner.token));
        let mut answer = request.header("Accept-Encoding", encoding).call().unwrap();
        let told = |name: &str| answer.headers().get(name).map(|value| value.to_str().unwrap().to_owned());
        (told("etag"), told("content-encoding"), answer.body_mut().read_to_vec().unwrap())
    };
    let path = format!("/v1/projects/{project}");
    let (packed, plain) = (asked(&path, "gzip"), asked(&path, "identity"));
    assert!(packed.0.is_some() && packed.1.is_none(), "{packed:?}");
    assert_eq!(packed, plain);
    // Without a tag the same length of answer is packed.
    let (tag, encoding, _) = asked("/v1/projects", "gzip");
    assert_eq!((tag, encoding.as_deref()), (None, Some("gzip")));
}

#[test]
fn an_empty_name_is_told_with_everything_else_that_is_wrong() {
    let world = World::open();
    let owner = world.owner();
    let body = json!({ "name": "", "date": "2025-13-40", "cost": "1,50", "purpose": "to_look_at" });
    let refused = owner.is_refused(422, "/v1/furniture", body);
    for field in ["/name", "/date", "/cost", "/purpose"] {
        assert!(!refused.error_at(field).is_empty(), "{field}: {}", refused.text);
    }
}
