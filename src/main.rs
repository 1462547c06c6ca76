//! The command line.

fn main() -> std::process::ExitCode {
    ledgerboard::api::command::run(ledgerboard::web::pages::register)
}
