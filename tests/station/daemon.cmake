# The daemon as a real process on a bus of its own.
ambo_script(test_bus station test_bus.py)
ambo_script(test_replay_batch station test_replay.py)
ambo_script(test_notify station test_notify.py)
ambo_script(test_store_on_disk station test_store.py)
ambo_script(test_kill station test_kill.py)
ambo_script(test_systemd station test_systemd.py)
ambo_script(test_batches station test_batches.py)
