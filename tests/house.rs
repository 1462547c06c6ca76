//! The house: five rooms, arrows only downward, one word a file. Each failure names the way out.
#![cfg(test)]

use std::fs;
use std::path::{Path, PathBuf};

/// Rooms and what each may import of ours.
const ARROWS: [(&str, &[&str]); 5] = [
    ("rules", &[]),
    ("store", &["rules"]),
    ("export", &["rules"]),
    ("api", &["rules", "store", "export"]),
    ("web", &["rules", "store", "export"]),
];

/// What the ground floor may not know of.
const NOT_IN_RULES: [&str; 9] =
    ["async ", ".await", "diesel", "actix", "tokio", "std::fs", "std::net", "SystemTime", "Utc::now"];

/// Names of drawers that everything ends up in.
const DRAWERS: [&str; 9] =
    ["util", "utils", "helper", "helpers", "common", "manager", "service", "dto", "misc"];

/// Words with a file in these rooms and, as `tests/<word>.rs`, through the door.
const WORDS: [&str; 19] = [
    "accounts",
    "attributions",
    "books",
    "costing",
    "deals",
    "entries",
    "episodes",
    "furniture",
    "gifts",
    "labour",
    "ledger",
    "materials",
    "openings",
    "parties",
    "payouts",
    "projects",
    "purchases",
    "tax_years",
    "tools",
];

/// A word that has no file of its own somewhere, and why.
const ELSEWHERE: [(&str, &str, &str); 2] = [
    ("rules", "tax_years", "the reader of a year is rules/tax_year"),
    ("tests", "episodes", "an episode is its title and project; tests/projects.rs has both"),
];

/// Generated or tabular files that may be longer.
const LONG: [(&str, &str); 1] = [("src/store/schema.rs", "printed from the database")];

const LINES: usize = 500;

fn root() -> PathBuf {
    PathBuf::from(env!("CARGO_MANIFEST_DIR"))
}

fn files(folder: &Path, ending: &str) -> Vec<PathBuf> {
    let mut found = Vec::new();
    for entry in fs::read_dir(folder).unwrap() {
        let path = entry.unwrap().path();
        if path.is_dir() {
            found.extend(files(&path, ending));
        } else if path.extension().is_some_and(|one| one == ending) {
            found.push(path);
        }
    }
    found.sort();
    found
}

fn named(path: &Path) -> String {
    path.strip_prefix(root()).unwrap().to_string_lossy().into_owned()
}

fn complain(broken: Vec<String>, way_out: &str) {
    assert!(broken.is_empty(), "{}\n=> {way_out}", broken.join("\n"));
}

/// The code of a file without its tests and comments.
fn code(path: &Path) -> String {
    let text = fs::read_to_string(path).unwrap();
    text.lines().filter(|line| !line.trim_start().starts_with("//")).collect::<Vec<_>>().join("\n")
}

#[test]
fn arrows_point_downward_only() {
    let mut broken = Vec::new();
    for (room, allowed) in ARROWS {
        let mut places = files(&root().join("src").join(room), "rs");
        places.push(root().join(format!("src/{room}.rs")));
        for path in places {
            let text = code(&path);
            for (other, _) in ARROWS.iter().filter(|(other, _)| *other != room && !allowed.contains(other)) {
                if text.contains(&format!("crate::{other}")) {
                    broken.push(format!("{} imports {other}", named(&path)));
                }
            }
        }
    }
    complain(broken, "move what is shared down a floor, or hand it in as an argument");
}

#[test]
fn the_rules_know_of_no_machine() {
    let mut broken = Vec::new();
    for path in files(&root().join("src/rules"), "rs") {
        let text = code(&path);
        for word in NOT_IN_RULES.iter().filter(|word| text.contains(**word)) {
            broken.push(format!("{} says {word:?}", named(&path)));
        }
    }
    complain(broken, "load the fact in store/ and give it to the rule");
}

#[test]
fn no_word_of_the_rules_imports_another_word() {
    // Readers look across all words; the ground is below them.
    let readers = ["costing", "tax_year", "verify"];
    let words: Vec<&str> = WORDS.iter().copied().filter(|word| !readers.contains(word)).collect();
    let mut broken = Vec::new();
    for path in files(&root().join("src/rules"), "rs") {
        let name = named(&path);
        if name.contains("/tests") || readers.iter().any(|reader| name.contains(&format!("rules/{reader}"))) {
            continue;
        }
        let own = words.iter().find(|word| name.contains(&format!("rules/{word}")));
        let text = code(&path);
        for other in words.iter().filter(|other| Some(*other) != own) {
            let imports = [
                format!("super::{other}::"),
                format!("rules::{other}::"),
                format!("super::super::{other}::"),
            ];
            if imports.iter().any(|import| text.contains(import)) {
                broken.push(format!("{name} imports {other}"));
            }
        }
    }
    complain(broken, "move what both need to the ground (rows, pieces, tool_terms, recording)");
}

#[test]
fn a_word_has_a_file_in_every_room() {
    let mut broken = Vec::new();
    for word in WORDS {
        for (room, folder) in
            [("rules", "src/rules"), ("store", "src/store"), ("api", "src/api"), ("tests", "tests")]
        {
            let there = root().join(folder).join(format!("{word}.rs")).exists();
            let excused = ELSEWHERE.iter().any(|(one, other, _)| *one == room && *other == word);
            if !there && !excused {
                broken.push(format!("{folder}/{word}.rs is missing"));
            }
            if there && excused {
                broken.push(format!("{folder}/{word}.rs is there, and ELSEWHERE still excuses it"));
            }
        }
    }
    complain(broken, "name the file by its word, or say in ELSEWHERE where it is and why");
}

#[test]
fn every_file_of_tests_is_run() {
    let main = fs::read_to_string(root().join("tests/main.rs")).unwrap();
    let mut broken = Vec::new();
    for entry in fs::read_dir(root().join("tests")).unwrap() {
        let name = entry.unwrap().file_name().to_string_lossy().into_owned();
        let word = name.trim_end_matches(".rs");
        let is_part = name.ends_with(".rs") && !["main", "house"].contains(&word);
        if is_part && !main.contains(&format!("mod {word};")) {
            broken.push(format!("tests/{name}"));
        }
    }
    complain(broken, "add its mod to tests/main.rs");
}

#[test]
fn no_file_is_longer_than_a_person_reads() {
    let mut broken = Vec::new();
    for folder in ["src", "tests"] {
        for path in files(&root().join(folder), "rs") {
            let (name, lines) = (named(&path), fs::read_to_string(&path).unwrap().lines().count());
            if lines > LINES && !LONG.iter().any(|(one, _)| *one == name) {
                broken.push(format!("{name} has {lines} lines"));
            }
        }
    }
    complain(broken, "make the word a folder of verbs: furniture/{acquire,sell}.rs under furniture.rs");
}

#[test]
fn there_is_no_drawer_and_no_sixth_room() {
    let mut broken = Vec::new();
    for path in files(&root().join("src"), "rs") {
        let stem = path.file_stem().unwrap().to_string_lossy().into_owned();
        if DRAWERS.contains(&stem.as_str()) {
            broken.push(named(&path));
        }
    }
    for entry in fs::read_dir(root().join("src")).unwrap() {
        let name = entry.unwrap().file_name().to_string_lossy().into_owned();
        let room = name.trim_end_matches(".rs");
        if !ARROWS.iter().any(|(one, _)| *one == room) && !["lib", "main"].contains(&room) {
            broken.push(format!("src/{name}"));
        }
    }
    complain(broken, "name the file by what it is about, in the room it belongs to");
}

#[test]
fn the_top_level_holds_what_it_should() {
    let expected = [
        "Cargo.lock",
        "Cargo.toml",
        "DEVELOPERS.md",
        "LICENSE",
        "README.md",
        "clippy.toml",
        "docker",
        "migrations",
        "openapi",
        "rustfmt.toml",
        "src",
        "tests",
    ];
    let mut broken = Vec::new();
    for entry in fs::read_dir(root()).unwrap() {
        let name = entry.unwrap().file_name().to_string_lossy().into_owned();
        let left_by_tools = ["target", "mutants.out", "mutants.out.old", "proptest-regressions"];
        if !name.starts_with('.')
            && !expected.contains(&name.as_str())
            && !left_by_tools.contains(&name.as_str())
        {
            broken.push(name);
        }
    }
    for name in expected {
        if !root().join(name).exists() {
            broken.push(format!("{name} is missing"));
        }
    }
    complain(broken, "put it into the folder it belongs to");
}

#[test]
fn paths_that_the_guides_name_exist() {
    let mut broken = Vec::new();
    for guide in ["README.md", "DEVELOPERS.md"] {
        let text = fs::read_to_string(root().join(guide)).unwrap();
        for quoted in text.split('`').skip(1).step_by(2) {
            let is_path = ["src/", "tests/", "migrations/", "openapi/", "docker/"]
                .iter()
                .any(|folder| quoted.starts_with(folder))
                && !quoted.contains([' ', '*', '{', '<', '…']);
            if is_path && !root().join(quoted).exists() {
                broken.push(format!("{guide} names {quoted}"));
            }
        }
    }
    complain(broken, "correct the guide");
}

#[test]
fn every_test_that_the_ten_risks_name_exists() {
    let guide = fs::read_to_string(root().join("DEVELOPERS.md")).unwrap();
    let rows: Vec<_> = guide.lines().filter(|line| line.starts_with("| API")).collect();
    assert_eq!(
        rows.len(),
        10,
        "OWASP API Security Top 10 (2023): https://owasp.org/API-Security/editions/2023/en/"
    );
    let written: String = ["src", "tests"]
        .iter()
        .flat_map(|folder| files(&root().join(folder), "rs"))
        .map(|path| fs::read_to_string(path).unwrap())
        .collect();
    let mut broken = Vec::new();
    for row in &rows {
        for name in row.rsplit('|').nth(1).unwrap().split('`').skip(1).step_by(2) {
            if !written.contains(&format!("fn {name}() {{")) {
                broken.push(format!("{name} of {row:.40}"));
            }
        }
    }
    let made_up = format!("fn {}() {{", "a_test_that_is_not_there");
    assert!(!written.contains(&made_up), "the control: not every name is found");
    complain(broken, "name the test that holds it now, or write one");
}

/// Versions below which a known fault stands (advisories of 2026), and crates that may not come in.
#[test]
fn the_lock_file_keeps_the_floors() {
    let floors = [
        ("diesel", (2, 3, 10)),
        ("diesel-async", (0, 9, 0)),
        ("tokio-postgres", (0, 7, 18)),
        ("actix-web", (4, 14, 1)),
    ];
    let lock: toml::Value = toml::from_str(&fs::read_to_string(root().join("Cargo.lock")).unwrap()).unwrap();
    let mut broken = Vec::new();
    for package in lock["package"].as_array().unwrap() {
        let (name, version) = (package["name"].as_str().unwrap(), package["version"].as_str().unwrap());
        let numbers: Vec<u32> =
            version.split(['.', '-', '+']).take(3).map(|part| part.parse().unwrap_or(0)).collect();
        let version_number = (numbers[0], numbers[1], numbers[2]);
        if let Some((_, floor)) = floors.iter().find(|(one, _)| *one == name)
            && version_number < *floor
        {
            broken.push(format!("{name} {version} is below {floor:?}"));
        }
        if name == "h2" {
            broken.push(format!("h2 {version} came in: some crate asks for actix-web's http2"));
        }
        if ["bigdecimal", "pq-sys"].contains(&name) {
            broken.push(format!("{name} came in: one decimal type, and no libpq"));
        }
        let source = package.get("source").and_then(toml::Value::as_str).unwrap_or("");
        if !["", "registry+https://github.com/rust-lang/crates.io-index"].contains(&source) {
            broken.push(format!("{name} comes from {source}"));
        }
    }
    complain(broken, "raise the version in Cargo.toml, or leave the feature out");
}
