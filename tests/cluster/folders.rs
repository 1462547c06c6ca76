//! The folders of the private cluster: odd names, long paths, what a killed start left, and a long log.

use super::*;

#[tokio::test]
async fn a_folder_with_spaces_and_quotes_in_its_name_works_and_so_does_its_url() {
    for name in ["my books/x", "Ann's \"best\" bücher", "paint, lumber & 50% more"] {
        let place = Place::named(name);
        let cluster = place.start().await.unwrap();
        write_row(&cluster).await;
        let url = cluster.url(ADMIN, "postgres");
        let (client, connection) = tokio_postgres::connect(&url, NoTls).await.unwrap();
        tokio::spawn(connection);
        let piece: String = client.query_one("select piece from sale", &[]).await.unwrap().get(0);
        assert_eq!(piece, "dresser", "{url}");
        let psql = cluster.programs().join("psql");
        if psql.exists() {
            let answer = Command::new(psql).args(["-Atc", "select piece from sale", &url]).output().unwrap();
            assert_eq!(String::from_utf8_lossy(&answer.stdout), "dresser\n", "{answer:?}");
        }
        let folder = socket_dir(&cluster).await;
        cluster.stop().await.unwrap();
        assert_eq!(folder.starts_with(&place.data_dir), !name.contains(','), "a comma parts hosts in a URL");
        if name.contains(',') {
            fs::remove_dir_all(folder).unwrap();
        }
    }
}

#[tokio::test]
async fn a_path_too_long_for_a_socket_gets_a_short_private_folder_for_it() {
    let place = Place::named(&format!("{}/{}", "long".repeat(20), "path".repeat(20)));
    let cluster = place.start().await.unwrap();
    write_row(&cluster).await;
    assert_eq!(read_row(&cluster).await, "dresser");
    let folder = socket_dir(&cluster).await;
    assert!(!folder.starts_with(&place.data_dir), "{}", folder.display());
    let found = fs::metadata(&folder).unwrap();
    assert_eq!((found.mode() & 0o777, found.uid()), (0o700, fs::metadata(&place.data_dir).unwrap().uid()));
    cluster.stop().await.unwrap();
    fs::set_permissions(&folder, Permissions::from_mode(0o755)).unwrap();
    let refused = place.start().await.unwrap_err();
    assert!(matches!(refused, ClusterError::TooOpen { .. }), "{refused:?}");
    assert_one_line(&refused, &["755", "chmod 700"]);
    fs::set_permissions(&folder, Permissions::from_mode(0o700)).unwrap();
    if is_root() {
        let owner = fs::metadata(&folder).unwrap().uid();
        lchown(&folder, Some(12345), None).unwrap();
        let refused = place.start().await.unwrap_err();
        assert!(matches!(refused, ClusterError::WrongOwner { .. }), "{refused:?}");
        lchown(&folder, Some(owner), None).unwrap();
    }
    place.start().await.unwrap().stop().await.unwrap();
    fs::remove_dir_all(folder).unwrap();
}

#[tokio::test]
async fn a_half_made_cluster_is_swept_and_made_anew() {
    let place = Place::new();
    place.start().await.unwrap().stop().await.unwrap();
    fs::remove_dir_all(place.cluster()).unwrap();
    let half = place.data_dir.join("postgres-15.new-1");
    fs::create_dir_all(half.join("base/1")).unwrap();
    fs::write(half.join("PG_VERSION"), "15\n").unwrap();
    let kept = place.data_dir.join("postgres-notes");
    fs::create_dir(&kept).unwrap();
    let cluster = place.start().await.unwrap();
    write_row(&cluster).await;
    assert!(!half.exists());
    assert!(kept.exists(), "what is not ours is left alone");
    cluster.stop().await.unwrap();
}

#[tokio::test]
async fn a_long_server_log_is_put_aside_at_the_start() {
    let place = Place::new();
    place.start().await.unwrap().stop().await.unwrap();
    let log = place.data_dir.join("postgres.log");
    let short = fs::metadata(&log).unwrap().len();
    place.start().await.unwrap().stop().await.unwrap();
    assert!(fs::metadata(&log).unwrap().len() > short, "a short one is kept");
    fs::write(&log, vec![b'.'; 5 << 20]).unwrap();
    place.start().await.unwrap().stop().await.unwrap();
    assert!(fs::metadata(&log).unwrap().len() < 100_000);
    assert_eq!(fs::metadata(place.data_dir.join("postgres.log.1")).unwrap().len(), 4 << 20);
}
