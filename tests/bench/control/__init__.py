"""Who holds feed and air best: hand, thermostat, PID and this daemon on an ensemble of kilns none of them knows."""
