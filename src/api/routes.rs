//! The table of routes: every address of the API, from top to bottom.

use utoipa_actix_web::service_config::ServiceConfig;

use super::{accounts, books, entries, episodes, openings, parties, projects, tokens};

/// Registers every handler; only what is named here is served and documented.
pub fn register(routes: &mut ServiceConfig<'_>) {
    routes
        .service(books::show_books)
        .service(books::open_books)
        .service(books::close_period)
        .service(books::reopen_period)
        .service(books::list_period_acts)
        .service(books::read_period_act)
        .service(tokens::make_token)
        .service(tokens::list_tokens)
        .service(tokens::revoke_token)
        .service(accounts::open_account)
        .service(accounts::list_accounts)
        .service(accounts::read_account)
        .service(accounts::show_account_standing)
        .service(accounts::transfer_money)
        .service(accounts::contribute_money)
        .service(accounts::draw_money)
        .service(accounts::pay_owner_tax)
        .service(accounts::borrow_money)
        .service(accounts::repay_loan)
        .service(parties::add_party)
        .service(parties::list_parties)
        .service(parties::read_party)
        .service(projects::open_project)
        .service(projects::list_projects)
        .service(projects::read_project)
        .service(projects::budget_project)
        .service(episodes::plan_episode)
        .service(episodes::list_episodes)
        .service(episodes::read_episode)
        .service(openings::state_opening)
        .service(openings::list_openings)
        .service(openings::read_opening)
        .service(entries::read_entry)
        .service(entries::reverse_entry)
        .service(entries::list_reversals)
        .service(entries::read_reversal)
        .service(entries::read_record)
        .service(entries::reverse_record);
}
