//! Many requests at once on one connection in HTTP/2.

use std::time::Duration;

use tokio::io::AsyncWriteExt;
use tokio::net::TcpStream;
use tokio::time::timeout;

use super::frames::{BEGIN, ENHANCE_YOUR_CALM, Frame, REFUSED_STREAM, head, next, reset};
use super::{having_sent, others_are_served};
use crate::server::Server;

/// The frames that the server sends until it ends the connection, or until `enough`.
async fn answers(stream: &mut TcpStream, enough: impl Fn(&[Frame]) -> bool) -> Vec<Frame> {
    let mut frames = Vec::new();
    let read = async {
        while let Some(frame) = next(stream).await {
            frames.push(frame);
            if enough(&frames) {
                break;
            }
        }
    };
    timeout(Duration::from_secs(10), read).await.expect("the server answers or ends the connection");
    frames
}

#[tokio::test]
async fn who_asks_and_takes_back_over_and_over_is_sent_away() {
    let server = Server::start();
    let mut attackers = Vec::new();
    for _ in 0..10 {
        let mut stream = having_sent(&server, BEGIN).await;
        let flood: Vec<u8> = (0..10_000)
            .flat_map(|number| [head(2 * number + 1, true), reset(2 * number + 1)].concat())
            .collect();
        attackers.push(tokio::spawn(async move {
            let (mut read, mut write) = stream.split();
            // The server ends the connection while it is sent.
            let (_, frames) = tokio::join!(write.write_all(&flood), async {
                let mut sent_away = None;
                while let Some(frame) = next(&mut read).await {
                    if let Frame::GoAway(code) = frame {
                        sent_away = Some(code);
                        break;
                    }
                }
                sent_away
            });
            frames
        }));
    }
    others_are_served(&server).await;
    for attacker in attackers {
        let sent_away = timeout(Duration::from_secs(10), attacker).await.expect("it ends").expect("it ends");
        assert_eq!(sent_away, Some(ENHANCE_YOUR_CALM));
    }
    others_are_served(&server).await;
}

#[tokio::test]
async fn streams_beyond_those_allowed_are_refused() {
    let server = Server::start();
    let flood: Vec<u8> = (0..400).flat_map(|number| head(2 * number + 1, false)).collect();
    let mut stream = having_sent(&server, [BEGIN, &flood].concat()).await;
    let refused =
        |frames: &[Frame]| frames.iter().filter(|frame| **frame == Frame::Reset(REFUSED_STREAM)).count();
    others_are_served(&server).await;
    let frames = answers(&mut stream, |frames| refused(frames) >= 100).await;
    let gone = frames.contains(&Frame::GoAway(ENHANCE_YOUR_CALM));
    assert!(refused(&frames) >= 100 || gone, "{frames:?}");
    others_are_served(&server).await;
}
