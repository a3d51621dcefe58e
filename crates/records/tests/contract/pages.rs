//! Lists, a page at a time.

use baycast_records::{Error, PageRequest, Which};

use crate::databases::Database;
use crate::orchard::{BATCH, FARM, add, batch_draft, bay, planted, reading};

pub async fn every_item_once_while_others_are_added(database: Database) {
    let records = planted(&database).await;
    let mut expected = Vec::new();
    for number in 0..25 {
        expected.push(add(&records, BATCH, reading(None, f64::from(number))).await);
        records.create_bay(FARM, &bay(&format!("bay-{number}")), i64::from(number % 3)).await.unwrap();
        records.create_batch(FARM, &format!("b{number:02}"), &batch_draft("east")).await.unwrap();
    }
    let mut request = PageRequest { size: 7, token: None };
    let mut seen = Vec::new();
    loop {
        let page = records.events(FARM, BATCH, Which::Current, &request).await.unwrap();
        assert!(page.items.len() <= 7);
        seen.extend(page.items.into_iter().map(|own| own.id));
        expected.push(add(&records, BATCH, reading(None, 0.5)).await);
        request.token = page.next;
        if request.token.is_none() {
            break;
        }
    }
    // The last page was full of what had been added before it was read.
    assert_eq!(seen, expected[..seen.len()]);
    assert!(seen.len() > 25);

    let mut request = PageRequest { size: 4, token: None };
    let mut bays = Vec::new();
    loop {
        let page = records.bays(FARM, &request).await.unwrap();
        bays.extend(page.items.into_iter().map(|own| (own.position, own.bay.id)));
        request.token = page.next;
        if request.token.is_none() {
            break;
        }
    }
    assert_eq!(bays.len(), 26);
    assert!(bays.is_sorted() && bays.windows(2).all(|pair| pair[0] != pair[1]), "{bays:?}");
    let all = records.batches(FARM, true, &PageRequest { size: 26, token: None }).await.unwrap();
    assert_eq!((all.items.len(), all.next), (26, None));
}

pub async fn tokens_of_other_lists_are_refused(database: Database) {
    let records = planted(&database).await;
    records.create_batch(FARM, "b", &batch_draft("east")).await.unwrap();
    let first = PageRequest { size: 1, token: None };
    let token = records.batches(FARM, true, &first).await.unwrap().next;
    assert!(token.is_some());
    let next = PageRequest { size: 1, token };
    records.batches(FARM, true, &next).await.unwrap();
    let refused = [
        records.batches(FARM, false, &next).await.err(),
        records.batches("other", true, &next).await.err(),
        records.bays(FARM, &next).await.err(),
        records.events(FARM, BATCH, Which::All, &next).await.err(),
    ];
    for error in refused {
        assert!(matches!(&error, Some(Error::Invalid { field, .. }) if field == "page_token"), "{error:?}");
    }
}
