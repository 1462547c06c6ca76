//! Which word keeps which row.

use super::books::Tx;
use super::error::StoreError;
use crate::rules::ids::RecordId;
use crate::rules::rows::Row;

impl Tx<'_> {
    /// `place` is the row's among those of its record, from zero.
    pub(super) async fn write_row(
        &mut self,
        id: RecordId,
        place: usize,
        row: &Row,
    ) -> Result<(), StoreError> {
        match row {
            Row::MoneyAccount(account) => self.add_money_account(id, account).await,
            Row::Party(party) => self.add_party(id, party).await,
            Row::Project(project) => self.add_project(id, project).await,
            Row::BudgetLine(line) => self.add_budget_line(id, line).await,
            Row::Episode(episode) => self.add_episode(id, episode).await,
            Row::PurchaseLine(line) => self.add_purchase_line(id, line).await,
            Row::Lot(lot) => self.add_lot(id, lot).await,
            Row::LotMove(made) => self.add_lot_move(id, made).await,
            Row::Tool(tool) => self.add_tool(id, tool).await,
            Row::ToolUse(used) => self.add_tool_use(id, used).await,
            Row::ToolDisposal(disposal) => self.add_tool_disposal(id, disposal).await,
            Row::ToolEstimate(estimate) => self.add_tool_estimate(id, estimate).await,
            Row::BusinessShare(share) => self.add_business_share(id, share).await,
            Row::ToolImprovement(link) => self.add_tool_improvement(id, link).await,
            Row::ToolRepair(repair) => self.add_tool_repair(id, repair).await,
            Row::Piece(piece) => self.add_piece(id, piece).await,
            Row::PieceSale(sale) => self.add_piece_sale(id, sale).await,
            Row::PieceLeaving(left) => self.add_piece_leaving(id, left).await,
            Row::PieceConsignment(act) => self.add_piece_consignment(id, act).await,
            Row::PieceDeposit(act) => self.add_piece_deposit(id, act).await,
            Row::PieceRefund(refund) => self.add_piece_refund(id, refund).await,
            Row::Labour(labour) => self.add_labour(id, labour).await,
            Row::Trip(trip) => self.add_trip(id, trip).await,
            Row::Gift(gift) => self.add_gift(id, place, gift).await,
            Row::Deal(deal) => self.add_deal(id, deal).await,
            Row::DealShare(share) => self.add_deal_share(id, share).await,
            Row::InstalmentDue(due) => self.add_instalment_due(id, due).await,
            Row::Clawback(clawback) => self.add_clawback(id, clawback).await,
            Row::Promise(promise) => self.add_promise(id, promise).await,
            Row::PromiseKept(kept) => self.add_promise_kept(id, kept).await,
            Row::Instalment(instalment) => self.add_instalment(id, instalment).await,
            Row::Invoice(invoice) => self.add_invoice(id, invoice).await,
            Row::Settlement(settlement) => self.add_settlement(id, settlement).await,
            Row::Payout(payout) => self.add_payout(id, payout).await,
            Row::Election(election) => self.add_election(id, election).await,
            Row::HomeOffice(office) => self.add_home_office(id, office).await,
            Row::Filing(filing) => self.add_filing(id, filing).await,
            Row::PeriodAct(act) => self.add_period_act(id, act).await,
            Row::CarryOver(carried) => self.add_carry_over(id, carried).await,
            Row::ToolCharge(charge) => self.add_tool_charge(id, charge).await,
            Row::Document(document) => self.add_document(id, document).await,
            Row::DocumentAttachment(one) => self.add_document_attachment(id, *one).await,
            Row::OverheadPool(pool) => self.add_overhead_pool(id, pool).await,
            Row::OverheadSpread(spread) => self.add_overhead_spread(id, spread).await,
        }
    }
}
