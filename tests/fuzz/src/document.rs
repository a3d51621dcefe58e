//! All other documents that come as JSON.

use std::fmt::Debug;

use baycast_model::plan::season::Season;
use baycast_model::recipe::OnHand;
use baycast_model::requirement::Need;
use baycast_service::parse;
use baycast_service::records::{
    AppendEvents, Batch, BatchEvent, Farm, FarmBay, FarmFeedstock, FarmNeed, FarmSeason, FeedDraft, KeyDraft,
    Webhook,
};
use serde::Serialize;
use serde::de::DeserializeOwned;

use super::told;

/// The kinds, by the letter that comes before a document.
const KINDS: [fn(&[u8]); 14] = [
    read::<AppendEvents>,
    read::<Batch>,
    read::<BatchEvent>,
    read::<Farm>,
    read::<FarmBay>,
    read::<FarmFeedstock>,
    read::<FarmNeed>,
    read::<FarmSeason>,
    read::<FeedDraft>,
    read::<KeyDraft>,
    read::<Need>,
    read::<OnHand>,
    read::<Season>,
    read::<Webhook>,
];

/// A letter from `a` on says which document comes.
pub fn ask(text: &[u8]) {
    let Some((letter, text)) = text.split_first() else { return };
    if let Some(read) = KINDS.get(usize::from(letter.wrapping_sub(b'a'))) {
        read(text);
    }
}

/// It is told what is wrong with it; or it is read, and written reads as the same.
fn read<T: DeserializeOwned + Serialize + PartialEq + Debug>(text: &[u8]) {
    match parse::json::<T>(text) {
        Ok(document) => {
            let written = serde_json::to_vec(&document).expect("what was read can be written");
            assert_eq!(parse::json::<T>(&written).as_ref(), Ok(&document));
        }
        Err(error) => told::of_json(&error),
    }
}
