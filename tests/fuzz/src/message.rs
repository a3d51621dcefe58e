//! Messages of gRPC, and what becomes of them.

use baycast_grpc::{convert, proto};
use baycast_model::check::check;
use baycast_model::problem::Problems;
use baycast_service::{Error, parse};
use prost::Message;

use super::told;

/// The messages, by the letter that comes before one.
const KINDS: [fn(&[u8]); 16] = [
    history,
    |wire| read(wire, |own: proto::CreateBatchRequest| convert::batch(own.batch)),
    |wire| {
        read(wire, |own: proto::BringInEventsRequest| {
            let proto::BringInEventsRequest { events, sheet, mode, dates, units, dry_run, .. } = own;
            convert::bring_in(events, sheet, (mode, dates, units), dry_run)
        });
    },
    |wire| read(wire, |own: proto::CreateFarmRequest| convert::farm(own.farm)),
    |wire| read(wire, |own: proto::CreateBayRequest| convert::farm_bay(own.bay)),
    |wire| read(wire, |own: proto::CreateFarmFeedstockRequest| convert::farm_feedstock(own.feedstock)),
    |wire| read(wire, convert::key_draft),
    |wire| read(wire, |own: proto::AppendEventsRequest| convert::append(own.entries, own.mode)),
    |wire| read(wire, |own: proto::PlanSeasonRequest| convert::season(own.season)),
    |wire| read(wire, |own: proto::PlanFarmRequest| convert::farm_season(own.season)),
    |wire| read(wire, |own: proto::FindRequirementRequest| convert::need(own.need)),
    |wire| read(wire, |own: proto::FindFarmRequirementRequest| convert::farm_need(own.need)),
    |wire| read(wire, |own: proto::SuggestRecipeRequest| convert::on_hand(own.on_hand)),
    |wire| read(wire, |own: proto::CreateWebhookRequest| convert::webhook(own.webhook)),
    |wire| {
        read(wire, |own: proto::UpdateBatchRequest| {
            let new = own.batch.unwrap_or_default();
            let mask = convert::Mask::of_batch(own.update_mask)?;
            convert::batch(Some(mask.batch(proto::Batch::default(), new)))
        });
    },
    |wire| read(wire, |own: proto::EstimateBatchRequest| convert::days(&own.ready_by, "ready_by")),
];

/// A letter from `a` on says which message comes.
pub fn ask(text: &[u8]) {
    let Some((letter, wire)) = text.split_first() else { return };
    if let Some(read) = KINDS.get(usize::from(letter.wrapping_sub(b'a'))) {
        read(wire);
    }
}

/// A message that can be decoded is encoded as one that says the same, and is converted or told what is wrong with it.
fn read<M: Message + Default, T>(wire: &[u8], convert: impl FnOnce(M) -> Result<T, Error>) {
    let Ok(message) = M::decode(wire) else { return };
    // Bytes are compared, since a message may hold numbers that are none and equal nothing.
    let encoded = message.encode_to_vec();
    let again = M::decode(&*encoded).expect("what was encoded can be decoded");
    assert_eq!(again.encode_to_vec(), encoded);
    if let Err(error) = convert(message) {
        told::of_json(&error);
    }
}

/// A history whose values are in range is the same as JSON.
fn history(wire: &[u8]) {
    read(wire, |own: proto::EstimateMaturityRequest| {
        let history = convert::history(own.history).map_err(Error::Invalid)?;
        let mut problems = Problems::default();
        check(&history, "", 0, &mut problems);
        if problems.0.is_empty() {
            let written = serde_json::to_vec(&history).expect("a history can be written");
            assert_eq!(parse::history(&written).as_ref(), Ok(&history));
        } else {
            told::in_fields(&problems);
        }
        Ok(())
    });
}
