//! The board, in a real Chromium and over plain HTTP.

mod chromium;
mod doors;
mod yard;

use chromium::Run;
use yard::Yard;

#[tokio::test]
async fn every_page_at_every_size_has_no_fault() {
    let yard = Yard::larkfield(1).await;
    yard.good("POST", "/v1/farms", &yard::farm("bare")).await;
    yard.keep_season().await;
    Run::of(&yard).script("looks.mjs");
}

#[tokio::test]
async fn the_keyboard_is_enough() {
    Run::of(&Yard::small().await).script("keyboard.mjs");
}

#[tokio::test]
async fn without_scripts_it_is_whole() {
    let yard = Yard::larkfield(1).await;
    yard.keep_season().await;
    Run::of(&yard).script("plain.mjs");
}

#[tokio::test]
async fn a_change_shows_within_a_second_and_none_is_missed() {
    Run::of(&Yard::small().await).script("live.mjs");
}

#[tokio::test]
async fn a_note_taken_without_a_signal_arrives_once() {
    Run::of(&Yard::small().await).script("offline.mjs");
}

#[tokio::test]
async fn forty_batches_are_seen_at_once() {
    Run::of(&Yard::larkfield(6).await).script("weight.mjs");
}
