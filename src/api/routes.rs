//! The table of routes: every address of the API, from top to bottom.

use super::{
    accounts, attributions, audit, books, costing, deals, documents, entries, episodes, furniture, gifts,
    labour, ledger, materials, openings, parties, payouts, projects, purchases, tax_years, tokens, tools,
    trips,
};
use actix_web::dev::HttpServiceFactory;
use actix_web::web;
use utoipa_actix_web::OpenApiFactory;
use utoipa_actix_web::service_config::ServiceConfig;

/// What takes the routes: the generator of the document, once, and each worker, which serves without writing the
/// document again.
pub trait TakesRoutes {
    fn service<F: HttpServiceFactory + OpenApiFactory + 'static>(&mut self, handler: F) -> &mut Self;
}

impl TakesRoutes for ServiceConfig<'_> {
    fn service<F: HttpServiceFactory + OpenApiFactory + 'static>(&mut self, handler: F) -> &mut Self {
        ServiceConfig::service(self, handler)
    }
}

impl TakesRoutes for web::ServiceConfig {
    fn service<F: HttpServiceFactory + OpenApiFactory + 'static>(&mut self, handler: F) -> &mut Self {
        web::ServiceConfig::service(self, handler)
    }
}

/// Registers every handler; only what is named here is served and documented.
pub fn register(routes: &mut impl TakesRoutes) {
    the_books(routes);
    what_it_cost(routes);
    what_proves_it(routes);
    what_came_in(routes);
    what_it_comes_to(routes);
}

/// The books themselves, their tokens, and who and what they are about.
fn the_books(routes: &mut impl TakesRoutes) {
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
        .service(tokens::replace_token)
        .service(audit::list_audit_lines)
        .service(parties::add_party)
        .service(parties::add_party_batch)
        .service(parties::list_parties)
        .service(parties::read_party)
        .service(parties::revise_party)
        .service(projects::open_project)
        .service(projects::open_project_batch)
        .service(projects::list_projects)
        .service(projects::read_project)
        .service(projects::revise_project)
        .service(projects::budget_project)
        .service(episodes::plan_episode)
        .service(episodes::plan_episode_batch)
        .service(episodes::list_episodes)
        .service(episodes::read_episode)
        .service(episodes::revise_episode)
        .service(accounts::open_account)
        .service(accounts::open_account_batch)
        .service(accounts::list_accounts)
        .service(accounts::read_account)
        .service(accounts::revise_account)
        .service(accounts::show_account_standing)
        .service(accounts::transfer_money)
        .service(accounts::contribute_money)
        .service(accounts::draw_money)
        .service(accounts::pay_owner_tax)
        .service(accounts::borrow_money)
        .service(accounts::repay_loan)
        .service(openings::state_opening)
        .service(openings::state_opening_batch)
        .service(openings::list_openings)
        .service(openings::read_opening);
}

/// What things cost: receipts, stock, tools, furniture, hours, miles.
fn what_it_cost(routes: &mut impl TakesRoutes) {
    routes
        .service(purchases::record_purchase)
        .service(purchases::record_purchase_batch)
        .service(purchases::list_purchases)
        .service(purchases::read_purchase)
        .service(purchases::pay_purchase)
        .service(purchases::return_purchase)
        .service(materials::list_lots)
        .service(materials::show_lot)
        .service(materials::issue_material)
        .service(materials::issue_from_lot)
        .service(materials::return_to_lot)
        .service(materials::waste_from_lot)
        .service(materials::count_lot)
        .service(materials::list_material_records)
        .service(materials::read_material_record)
        .service(tools::acquire_tool)
        .service(tools::acquire_tool_batch)
        .service(tools::list_tools)
        .service(tools::show_tool_standing)
        .service(tools::log_tool_uses)
        .service(tools::estimate_tool_anew)
        .service(tools::improve_tool)
        .service(tools::state_business_share)
        .service(tools::dispose_of_tool)
        .service(tools::list_tool_records)
        .service(tools::read_tool_record)
        .service(tools::show_tool)
        .service(tools::revise_tool)
        .service(furniture::acquire_piece)
        .service(furniture::acquire_piece_batch)
        .service(furniture::sell_unrecorded_piece)
        .service(furniture::acquire_piece_lot)
        .service(furniture::take_piece_apart)
        .service(furniture::let_piece_go)
        .service(furniture::swap_piece)
        .service(furniture::convert_piece)
        .service(furniture::consign_piece)
        .service(furniture::fetch_piece_back)
        .service(furniture::take_piece_deposit)
        .service(furniture::settle_piece_deposit)
        .service(furniture::refund_buyer)
        .service(furniture::list_pieces)
        .service(furniture::show_piece)
        .service(furniture::sell_piece)
        .service(furniture::list_furniture_records)
        .service(furniture::read_furniture_record)
        .service(furniture::show_piece_labels)
        .service(furniture::revise_piece)
        .service(labour::record_labour)
        .service(labour::record_labour_batch)
        .service(labour::list_labour)
        .service(labour::read_labour)
        .service(trips::record_trip)
        .service(trips::record_trip_batch)
        .service(trips::list_trips)
        .service(trips::read_trip);
}

/// What proves it: pictures and papers.
fn what_proves_it(routes: &mut impl TakesRoutes) {
    routes
        .service(documents::receive_document)
        .service(documents::list_documents)
        .service(documents::list_unproved_purchases)
        .service(documents::list_document_records)
        .service(documents::read_document_record)
        .service(documents::show_document)
        .service(documents::fetch_document)
        .service(documents::attach_document);
}

/// What came in: goods, sponsorship, payouts.
fn what_came_in(routes: &mut impl TakesRoutes) {
    routes
        .service(gifts::receive_gift)
        .service(gifts::receive_gift_batch)
        .service(gifts::list_gifts)
        .service(gifts::read_gift)
        .service(gifts::show_gift_standing)
        .service(gifts::decide_gift_fate)
        .service(deals::agree_deal)
        .service(deals::agree_deal_batch)
        .service(deals::list_deals)
        .service(deals::show_deal_standing)
        .service(deals::invoice_sponsor)
        .service(deals::receive_instalment)
        .service(deals::pay_clawback)
        .service(deals::keep_promise)
        .service(deals::work_out_floor)
        .service(deals::list_deal_records)
        .service(deals::read_deal_record)
        .service(deals::show_deal)
        .service(deals::revise_deal)
        .service(payouts::receive_payout)
        .service(payouts::receive_payout_batch)
        .service(payouts::list_payouts)
        .service(payouts::read_payout);
}

/// The journal, the attributions, and what all of it comes to.
fn what_it_comes_to(routes: &mut impl TakesRoutes) {
    routes
        .service(entries::list_entries)
        .service(entries::list_postings)
        .service(entries::read_entry)
        .service(entries::reverse_entry)
        .service(entries::list_reversals)
        .service(entries::read_reversal)
        .service(entries::read_record)
        .service(entries::reverse_record)
        .service(attributions::list_attributions)
        .service(attributions::attribute)
        .service(attributions::attribute_batch)
        .service(attributions::state_overhead_pool)
        .service(attributions::spread_overhead)
        .service(attributions::split_joint_costs)
        .service(attributions::move_attribution)
        .service(ledger::show_trial_balance)
        .service(ledger::show_income_statement)
        .service(ledger::show_balance_sheet)
        .service(ledger::show_account_ledger)
        .service(ledger::prove_entry)
        .service(costing::state_episode)
        .service(costing::state_episode_for_viewers)
        .service(costing::state_project)
        .service(costing::show_year_of_work)
        .service(costing::show_overhead)
        .service(costing::work_out_break_even)
        .service(costing::roll_sources_forward)
        .service(tax_years::list_tax_years)
        .service(tax_years::list_tax_year_records)
        .service(tax_years::read_tax_year_record)
        .service(tax_years::choose_for_year)
        .service(tax_years::state_home_office)
        .service(tax_years::file_return)
        .service(tax_years::show_amended_year)
        .service(tax_years::show_tools_of_year)
        .service(tax_years::show_year_summary);
}
