//! What the README prints works: the session with curl alone, word for word.
#![cfg(test)]

use std::process::Command;

use crate::world::World;

fn session() -> String {
    let readme = std::fs::read_to_string(concat!(env!("CARGO_MANIFEST_DIR"), "/README.md")).unwrap();
    let after = readme.split("<!-- session -->").nth(1).unwrap();
    after.split("```sh\n").nth(1).unwrap().split("```").next().unwrap().to_owned()
}

#[test]
fn the_session_with_curl_sells_a_dresser_attributes_a_tool_and_pulls_the_year() {
    let world = World::open();
    let folder = tempfile::tempdir().unwrap();
    let output = Command::new("bash")
        .env("HOME", folder.path())
        .args(["-euo", "pipefail", "-c", &session()])
        .current_dir(folder.path())
        .env("API", &world.address)
        .env("TOKEN", &world.owner().token)
        .output()
        .unwrap();
    let said = String::from_utf8_lossy(&output.stdout).into_owned();
    assert!(output.status.success(), "{said}\n{}", String::from_utf8_lossy(&output.stderr));
    assert!(said.contains("personal"), "the sale's character is said in words: {said}");
    assert!(said.contains("\"recovered_total\":\"180.00\""), "{said}");
    // 300.00 over 60 hours: 4 hours are 20.00 (derived; units-of-use depreciation).
    assert!(said.contains("\"category\":\"tools\",\"amount\":\"20.00\""), "{said}");
    let csv = std::fs::read_to_string(folder.path().join("summary-2025.csv")).unwrap();
    assert!(csv.starts_with("section,line,label"), "{csv}");
    assert!(csv.contains("\r\n"));
}
