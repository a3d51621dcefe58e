//! How much is ready by a day: the service's sum over both fronts, and the sum that anyone makes over the sheet.

use baycast_grpc::proto::{SumReadyVolumeRequest, Use, records_service_client::RecordsServiceClient};
use jiff::civil::Date;
use tonic::transport::Endpoint;

use super::heaps::{Heaps, days_ago};
use crate::http::get;

/// The uses by their words and as the protobuf has them.
const USES: [(&str, Use); 3] =
    [("mulch", Use::Mulch), ("bed_dressing", Use::BedDressing), ("potting", Use::Potting)];

/// What adding up the sheet's column gives, m³.
fn summed(sheet: &str, for_use: &str, by: Date) -> f64 {
    let mut reader = csv::Reader::from_reader(sheet.as_bytes());
    let headers = reader.headers().expect("headings").clone();
    let at = |name: &str| headers.iter().position(|own| own == name).expect("a column");
    let (of_use, opens, volume) = (at("use"), at("opens_p50"), at("volume_at_opening_m3"));
    let rows = reader.records().map(|row| row.expect("a row"));
    let open =
        rows.filter(|row| &row[of_use] == for_use && row[opens].parse::<Date>().is_ok_and(|day| day <= by));
    open.map(|row| row[volume].parse::<f64>().expect("a volume")).sum()
}

#[tokio::test]
async fn the_sum_over_the_sheet_is_the_services() {
    let heaps = Heaps::new().await;
    let sheet = heaps.text("readiness.csv").await;
    let address = format!("http://{}", heaps.yard.server.address);
    let channel = Endpoint::from_shared(address).expect("an address").connect().await.expect("a connection");
    let mut client = RecordsServiceClient::new(channel);
    let mut seen = Vec::new();
    for (word, for_use) in USES {
        for by in [days_ago(200), days_ago(0), days_ago(-60), days_ago(-360)] {
            let expected = summed(&sheet, word, by);
            let told = heaps.text(&format!("ready_m3?use={word}&by={by}")).await;
            let ready_m3: f64 = told.parse().expect("a number");
            assert!((ready_m3 - expected).abs() < 1e-9, "{word} by {by}: {told}, {expected} over the sheet");
            assert!(
                told.split('.').nth(1).is_none_or(|decimals| decimals.len() <= 3),
                "to the litre: {told}"
            );
            let by_key = format!("/v1/farms/home/readiness/ready_m3?use={word}&by={by}");
            assert_eq!(get(&heaps.yard.server, &by_key).await.body, told.as_bytes());
            let request = SumReadyVolumeRequest {
                farm: "home".into(),
                r#use: for_use.into(),
                by: Some(by.to_string()),
            };
            let answer = client.sum_ready_volume(request).await.expect("a sum").into_inner();
            assert_eq!(answer.ready_m3, ready_m3);
            seen.push(ready_m3);
        }
        let today = heaps.text(&format!("ready_m3?use={word}")).await;
        let as_of = heaps.readiness().await["as_of"].as_str().expect("a day").to_owned();
        assert_eq!(today, heaps.text(&format!("ready_m3?use={word}&by={as_of}")).await, "the farm's own day");
    }
    assert!(seen.contains(&0.0) && seen.iter().any(|ready_m3| *ready_m3 > 0.5), "{seen:?}");
    for (query, pointers) in [
        ("", vec!["/use"]),
        ("?use=tea", vec!["/use"]),
        ("?use=mulch&by=soon", vec!["/by"]),
        ("?by=2026-10-01", vec!["/use"]),
        ("?by=soon", vec!["/use", "/by"]),
    ] {
        let answer = get(&heaps.yard.server, &format!("{}/ready_m3{query}", heaps.path)).await;
        let problem = answer.json();
        let told = problem["errors"].as_array().into_iter().flatten().map(|error| error["pointer"].as_str());
        let expected: Vec<_> = pointers.into_iter().map(Some).collect();
        assert_eq!((answer.status.as_u16(), told.collect::<Vec<_>>()), (422, expected), "{query}");
    }
}
