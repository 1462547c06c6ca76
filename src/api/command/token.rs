//! `ledgerboard token`: a token for books that exist, or for new books with their choices.

use std::process::ExitCode;

use chrono::{Datelike, NaiveDate, Utc};
use clap::builder::PossibleValuesParser;
use clap::{Args, ValueEnum};
use serde_json::{Map, Value};
use uuid::Uuid;

use super::Told;
use super::choosing::chosen_by_id;
use super::serving::first_token;
use crate::api::books::NewBooksBody;
use crate::api::checked::check_value;
use crate::api::problem::Problem;
use crate::api::saying::say;
use crate::api::setup::{self, Whereabouts};
use crate::api::stop::Stop;
use crate::rules::books::TaxProfile;
use crate::rules::costing::StartMonth;
use crate::rules::ids::BooksId;
use crate::rules::recording::{AccountingMethod, MaterialsFlow, MaterialsTiming};
use crate::rules::tokens::Scope;
use crate::store::books::{Books, BooksListed, NewBooks};
use crate::store::connect::Database;

/// How many names an error lists.
const NAMES_LISTED: usize = 20;

#[derive(Debug, Args)]
pub(super) struct TokenAsked {
    /// The name of the books; needed only where the server keeps more than one set of books.
    #[arg(long, required_if_eq("new", "true"))]
    books: Option<String>,
    /// The id of the books, where several have the same name; 'ledgerboard books list' shows it.
    #[arg(long, conflicts_with_all = ["books", "new"])]
    books_id: Option<Uuid>,
    /// Makes new books of that name; without it no books are made.
    #[arg(long)]
    new: bool,
    #[command(flatten)]
    choices: Choices,
    /// How far the token reaches.
    #[arg(long, value_enum, default_value = "admin")]
    scope: ScopeAsked,
    /// What the token is for.
    #[arg(long, default_value = "made on the command line")]
    name: String,
}

/// What new books are from their first day. Each is text here; the schema of `POST /v1/books` checks it.
#[derive(Debug, Args)]
#[command(next_help_heading = "Choices for new books (with --new)")]
struct Choices {
    /// The currency of the books, an ISO 4217 code [default: USD]
    #[arg(long)]
    currency: Option<String>,
    /// The day the books begin [default: January 1 of this year]
    #[arg(long)]
    began_on: Option<NaiveDate>,
    /// When income and costs count [default: cash]
    #[arg(long, value_parser = one_of(AccountingMethod::ALL.iter().map(|one| one.as_str())))]
    accounting_method: Option<String>,
    /// Which stock of a material leaves first [default: fifo]
    #[arg(long, value_parser = one_of(MaterialsFlow::ALL.iter().map(|one| one.as_str())))]
    materials_flow: Option<String>,
    /// When materials become a deduction [default: when_used]
    #[arg(long, value_parser = one_of(MaterialsTiming::ALL.iter().map(|one| one.as_str())))]
    materials_timing: Option<String>,
    /// A name in the IANA time zone database, such as America/Chicago [default: UTC]
    #[arg(long)]
    time_zone: Option<String>,
    /// Whose tax law the yearly summaries follow [default: us]
    #[arg(long, value_parser = one_of(TaxProfile::ALL.iter().map(|one| one.as_str())))]
    tax_profile: Option<String>,
    /// The first month of the fiscal year [default: january]
    #[arg(long, value_parser = one_of(StartMonth::ALL.iter().map(|one| one.as_str())))]
    fiscal_year_begins: Option<String>,
}

fn one_of(names: impl Iterator<Item = &'static str>) -> PossibleValuesParser {
    PossibleValuesParser::new(names.collect::<Vec<_>>())
}

#[derive(Clone, Copy, Debug, ValueEnum)]
enum ScopeAsked {
    Read,
    Record,
    Close,
    Admin,
}

impl From<ScopeAsked> for Scope {
    fn from(asked: ScopeAsked) -> Self {
        match asked {
            ScopeAsked::Read => Self::Read,
            ScopeAsked::Record => Self::Record,
            ScopeAsked::Close => Self::Close,
            ScopeAsked::Admin => Self::Admin,
        }
    }
}

/// The option on the command line, and the field of `POST /v1/books` that it is.
const OPTIONS: [(&str, &str); 9] = [
    ("--books", "name"),
    ("--currency", "base_currency"),
    ("--began-on", "began_on"),
    ("--accounting-method", "accounting_method"),
    ("--materials-flow", "materials_flow"),
    ("--materials-timing", "materials_timing"),
    ("--time-zone", "time_zone"),
    ("--tax-profile", "tax_profile"),
    ("--fiscal-year-begins", "fiscal_year_begins"),
];

impl Choices {
    /// What was given, by the names of the fields of `POST /v1/books`.
    fn given(&self) -> Map<String, Value> {
        let began_on = self.began_on.map(|day| day.to_string());
        [
            ("base_currency", &self.currency),
            ("began_on", &began_on),
            ("accounting_method", &self.accounting_method),
            ("materials_flow", &self.materials_flow),
            ("materials_timing", &self.materials_timing),
            ("time_zone", &self.time_zone),
            ("tax_profile", &self.tax_profile),
            ("fiscal_year_begins", &self.fiscal_year_begins),
        ]
        .into_iter()
        .filter_map(|(field, given)| Some((field.to_owned(), Value::from(given.clone()?))))
        .collect()
    }

    /// The books that these choices make, checked as `POST /v1/books` checks them.
    fn books(&self, name: &str) -> Result<NewBooks, Told> {
        let mut body = self.given();
        body.insert("name".to_owned(), name.into());
        body.entry("base_currency").or_insert_with(|| "USD".into());
        body.entry("began_on").or_insert_with(|| format!("{}-01-01", Utc::now().year()).into());
        let checked = check_value::<NewBooksBody>(body.into()).map_err(|problem| by_option(&problem))?;
        checked.value.books().map_err(|refusal| by_option(&Problem::of_refusal(&refusal)))
    }

    /// Which of these options were given, for a command that has no use for them.
    fn named(&self) -> Vec<&'static str> {
        let given = self.given();
        OPTIONS
            .into_iter()
            .filter(|(_, field)| given.contains_key(*field))
            .map(|(option, _)| option)
            .collect()
    }
}

/// The findings of a problem, each behind the option that it is about.
fn by_option(problem: &Problem) -> Told {
    let lines = problem.errors.iter().map(|error| {
        let option = OPTIONS.into_iter().find(|(_, field)| error.pointer == format!("/{field}"));
        let option = option.map_or(error.pointer.as_str(), |(option, _)| option);
        format!("{option}: {}; {}", error.detail, error.remedy)
    });
    Told::from(lines.collect::<Vec<_>>().join("\n"))
}

/// What the command makes a token for.
enum Wanted {
    New(Box<NewBooks>),
    /// The only books there are, where no name is given.
    Existing(Option<String>),
    Numbered(Uuid),
}

fn wanted(asked: &TokenAsked) -> Result<Wanted, Told> {
    if let (true, Some(name)) = (asked.new, &asked.books) {
        return Ok(Wanted::New(Box::new(asked.choices.books(name)?)));
    }
    let useless = asked.choices.named();
    if useless.is_empty() {
        return Ok(asked.books_id.map_or_else(|| Wanted::Existing(asked.books.clone()), Wanted::Numbered));
    }
    Err(Told::from(format!(
        "{} can be chosen for new books only: add --new to make new books, or leave this out to make a token for \
         books that exist",
        useless.join(", ")
    )))
}

pub(super) async fn token(
    whereabouts: &Whereabouts,
    asked: &TokenAsked,
    stop: &Stop,
) -> Result<ExitCode, Told> {
    // Before a server is started: what is wrong with the options needs no server.
    let wanted = wanted(asked)?;
    let opened = setup::open(whereabouts, stop).await?;
    let made = make(&opened.database, wanted, asked).await;
    opened.close().await?;
    say(made?);
    Ok(ExitCode::SUCCESS)
}

async fn make(database: &Database, wanted: Wanted, asked: &TokenAsked) -> Result<String, Told> {
    let books = match wanted {
        Wanted::New(new) => {
            refuse_a_name_in_use(&database.books_on_this_server().await?, &new.name)?;
            database.open_books(&new).await?
        }
        Wanted::Existing(name) => {
            let listed = database.books_on_this_server().await?;
            Books::of(database.clone(), existing(&listed, name.as_deref())?)
        }
        Wanted::Numbered(id) => {
            let found = chosen_by_id(database, id).await?;
            Books::of(database.clone(), BooksId(found.books_id))
        }
    };
    first_token(&books, "ledgerboard token", &asked.name, asked.scope.into()).await
}

/// Names that differ in case or in spaces around them only are the same to a person.
fn refuse_a_name_in_use(listed: &[BooksListed], name: &str) -> Result<(), Told> {
    let plain = |name: &str| name.trim().to_lowercase();
    match listed.iter().find(|one| plain(&one.name) == plain(name)) {
        None => Ok(()),
        Some(one) => Err(Told::from(format!(
            "there are books named {:?} already: choose another name, or leave --new out to make a token for them",
            one.name
        ))),
    }
}

/// The books of that name, or the only books there are.
fn existing(listed: &[BooksListed], name: Option<&str>) -> Result<BooksId, Told> {
    let found: Vec<_> = listed.iter().filter(|one| name.is_none_or(|name| one.name == name)).collect();
    match (found.as_slice(), name) {
        ([one], _) => Ok(BooksId(one.books_id)),
        ([], _) if listed.is_empty() => Err(Told::from(
            "there are no books here yet: add --new and a name, as in: ledgerboard token --new --books \"My workshop\"",
        )),
        ([], name) => Err(Told::from(format!(
            "no books here are named {:?}; the names are {}: check the name, or add --new to make new books",
            name.unwrap_or_default(),
            names(listed)
        ))),
        (_, None) => Err(Told::from(format!(
            "there are {} sets of books here: choose one with --books; the names are {}",
            listed.len(),
            names(listed)
        ))),
        (several, Some(name)) => Err(Told::from(format!(
            "{} sets of books are named {name:?}, with the ids {}: choose one of them with --books-id",
            several.len(),
            several.iter().map(|one| one.books_id.to_string()).collect::<Vec<_>>().join(", ")
        ))),
    }
}

fn names(listed: &[BooksListed]) -> String {
    let mut names: Vec<_> = listed.iter().take(NAMES_LISTED).map(|one| format!("{:?}", one.name)).collect();
    if let Some(more) = listed.len().checked_sub(NAMES_LISTED).filter(|more| *more > 0) {
        names.push(format!("and {more} more"));
    }
    names.join(", ")
}
