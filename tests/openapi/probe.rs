//! The API by tools that nobody here wrote, from nothing but its document: a prober, and generators of clients.

use std::num::NonZeroU32;
use std::process::Command;

use ledgerboard::api::limits::Limits;

use super::examples::with_more;
use crate::world::World;

/// `LEDGERBOARD_PYTHON=oracle/bin/python cargo test --release --test trade schemathesis -- --ignored --nocapture`
#[test]
#[ignore = "a command of its own: schemathesis, from PyPI"]
fn schemathesis_finds_nothing_in_a_workshop_with_all_of_its_checks() {
    let asked = |name: &str, usual: &str| std::env::var(name).unwrap_or_else(|_| usual.to_owned());
    let many = NonZeroU32::MAX;
    let world =
        World::limited(Limits { per_minute: many, wrong_tokens_per_minute: many, ..Limits::default() });
    let owner = world.owner();
    with_more(&owner);
    let tokens = owner.reads("/v1/tokens");
    let own = tokens["items"][0]["id"].as_str().unwrap();
    let config = concat!(env!("CARGO_MANIFEST_DIR"), "/tests/openapi/probe.toml");
    let status = Command::new(asked("LEDGERBOARD_PYTHON", "python3"))
        .args(["-m", "schemathesis.cli", "--config-file", config, "run", "--checks", "all"])
        .args(["--phases", "examples,coverage,fuzzing,stateful", "--continue-on-failure", "--workers", "1"])
        // Days of our years are few among all days, and sought one by one.
        .args(["--suppress-health-check", "filter_too_much"])
        .args(["--max-examples", &asked("LEDGERBOARD_TEST_EXAMPLES", "100")])
        .args(["--seed", &asked("LEDGERBOARD_TEST_SEED", "7")])
        .args(["--header", &format!("Authorization: Bearer {}", owner.token)])
        .arg(format!("{}/openapi.json", world.address))
        .current_dir(env!("CARGO_TARGET_TMPDIR"))
        .env("PYTHONPATH", concat!(env!("CARGO_MANIFEST_DIR"), "/tests/openapi"))
        .env("PYTHONDONTWRITEBYTECODE", "1")
        .env("SCHEMATHESIS_HOOKS", "probe_hooks")
        .env("LEDGERBOARD_OWN_TOKEN", own)
        .env("LEDGERBOARD_TOKEN", &owner.token)
        .env("LEDGERBOARD_URL", &world.address)
        .status()
        .unwrap();
    assert!(status.success(), "{status}");
}

/// `cargo test --release --test trade generated_clients -- --ignored --nocapture`
#[test]
#[ignore = "a command of its own: generators of clients, from PyPI and npm"]
fn generated_clients_in_python_and_typescript_do_the_four_jobs_of_the_readme() {
    let world = World::open();
    let tokens = format!("{} {}", world.owner().token, world.stranger().token);
    let status = Command::new(concat!(env!("CARGO_MANIFEST_DIR"), "/tests/openapi/clients/run"))
        .arg(concat!(env!("CARGO_TARGET_TMPDIR"), "/clients"))
        .env("LEDGERBOARD_URL", &world.address)
        .env("LEDGERBOARD_TOKENS", tokens)
        .status()
        .unwrap();
    assert!(status.success(), "{status}");
}
