//! Feed addresses.

use baycast_records::{Error, PageRequest, Thing};

use crate::databases::Database;
use crate::orchard::{FARM, at, plant, planted};
use crate::schema::run;

const UNKNOWN: Error = Error::NotFound { what: Thing::Feed, name: String::new() };

pub async fn shown_once_and_stored_hashed(database: Database) {
    let records = planted(&database).await;
    let issued = records.create_feed(FARM, "shed", "key_1", at(0)).await.unwrap();
    let other = records.create_feed(FARM, "", "key_1", at(0)).await.unwrap();
    // 160 bits in hexadecimal digits, after the prefix.
    assert_eq!(issued.token.len(), "bcf_".len() + 40);
    assert_ne!(issued.token, other.token);
    assert_eq!((issued.feed.created_at, issued.feed.created_by.as_str()), (at(0), "key_1"));
    for (_, hash) in run(&database, "SELECT id, hash FROM feeds").await {
        assert_eq!(hash.len(), 64);
        assert!(!issued.token.contains(&hash) && !hash.contains(&issued.token[4..]));
    }
    let found = records.feed_of(&issued.token, at(7200)).await.unwrap();
    assert_eq!((found.farm.as_str(), &found.id, found.name.as_str()), (FARM, &issued.feed.id, "shed"));
    let mut wrong = issued.token.clone();
    let last = if wrong.pop() == Some('0') { '1' } else { '0' };
    wrong.push(last);
    for token in [wrong.as_str(), "", "bcf_", &issued.feed.id] {
        assert_eq!(records.feed_of(token, at(1)).await.unwrap_err(), UNKNOWN, "{token}");
    }
    // Last use is kept to the hour.
    let used = found.last_used_at.unwrap();
    assert_eq!(used.as_second() % 3600, 0);
    assert!((0..3600).contains(&(at(7200).as_second() - used.as_second())));
    let listed = records.feeds(FARM, &PageRequest::default()).await.unwrap().items;
    assert_eq!(listed.len(), 2);
    assert!(listed.contains(&found));
    let missing = records.create_feed("none", "x", "key_1", at(0)).await;
    assert_eq!(missing.err(), Some(Error::NotFound { what: Thing::Farm, name: "none".into() }));
    let shown = records.create_feed(FARM, "a\nb", "key_1", at(0)).await;
    assert!(matches!(shown.err(), Some(Error::Invalid { field, .. }) if field == "name"));
}

pub async fn revoked_is_unknown(database: Database) {
    let records = planted(&database).await;
    let issued = records.create_feed(FARM, "shed", "key_1", at(0)).await.unwrap();
    let kept = records.create_feed(FARM, "kept", "key_1", at(0)).await.unwrap();
    records.feed_of(&issued.token, at(1)).await.unwrap();
    assert!(records.lets_in(&issued.feed.id, FARM).await.unwrap());
    assert!(!records.lets_in(&issued.feed.id, "other").await.unwrap());
    let revoked = records.revoke_feed(FARM, &issued.feed.id, at(2)).await.unwrap();
    assert_eq!(revoked.revoked_at, Some(at(2)));
    assert_eq!(records.revoke_feed(FARM, &issued.feed.id, at(3)).await.unwrap().revoked_at, Some(at(2)));
    assert_eq!(records.feed_of(&issued.token, at(4)).await.unwrap_err(), UNKNOWN);
    records.feed_of(&kept.token, at(4)).await.unwrap();
    assert!(!records.lets_in(&issued.feed.id, FARM).await.unwrap());
    assert!(records.lets_in(&kept.feed.id, FARM).await.unwrap());
    let missing = records.revoke_feed(FARM, "feed_none", at(5)).await;
    assert_eq!(missing.err(), Some(Error::NotFound { what: Thing::Feed, name: "feed_none".into() }));
}

pub async fn of_one_farm_alone(database: Database) {
    let records = planted(&database).await;
    plant(&records, "other").await;
    let theirs = records.create_feed(FARM, "shed", "key_1", at(0)).await.unwrap();
    let missing = records.revoke_feed("other", &theirs.feed.id, at(1)).await;
    assert_eq!(missing.err(), Some(Error::NotFound { what: Thing::Feed, name: theirs.feed.id.clone() }));
    assert!(records.feeds("other", &PageRequest::default()).await.unwrap().items.is_empty());
    assert_eq!(records.feed_of(&theirs.token, at(2)).await.unwrap().farm, FARM);
    // Page by page, and a token of one farm's list leads nowhere in another's.
    for _ in 0..4 {
        records.create_feed(FARM, "more", "key_1", at(0)).await.unwrap();
    }
    let (mut request, mut seen) = (PageRequest { size: 2, token: None }, Vec::new());
    loop {
        let page = records.feeds(FARM, &request).await.unwrap();
        seen.extend(page.items.into_iter().map(|feed| feed.id));
        request.token = page.next;
        if request.token.is_none() {
            break;
        }
        assert!(records.feeds("other", &request).await.is_err());
    }
    assert_eq!(seen.len(), 5);
    assert!(seen.is_sorted());
}
