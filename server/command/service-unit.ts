/** What a unit needs to know about this installation. */
export interface UnitOptions {
  /** The program and its arguments, absolute paths. */
  readonly command: readonly string[];
  /** Environment of the service. */
  readonly environment: Readonly<Record<string, string>>;
  /** Folder outside the data folder that the service writes to; null = none. */
  readonly backupFolder: string | null;
  /** Folders that it only reads; they may be in the home of a user. */
  readonly readFolders: readonly string[];
}

/** Where the service keeps its record; systemd creates it for the service's user. */
export const SERVICE_DATA_FOLDER = '/var/lib/strandward';

/** In the kernel's list of devices (admin-guide/devices.txt): USB serial converters, USB modems (most boards), UARTs. */
const SERIAL_DEVICES = ['char-188', 'char-166', 'char-ttyS', 'char-ttyAMA'] as const;

const HOMES = /^\/(home|root|run\/user)(\/|$)/;

/** A systemd unit that lets the service do what it needs and nothing else. */
export function serviceUnit({ command, environment, backupFolder, readFolders }: UnitOptions): string {
  const needsHome = [...command, ...readFolders, backupFolder ?? ''].some((path) => HOMES.test(path));
  const variables = Object.entries({ ...environment, STRANDWARD_DATA: SERVICE_DATA_FOLDER });
  return `# Written by: strandward install-service
[Unit]
Description=Strandward watches a filament extrusion line
Wants=network-online.target
After=network-online.target

[Service]
# Ready and alive are reported by systemd-notify, which the service runs: a child, not the main process.
Type=notify
NotifyAccess=all
ExecStart=${command.map((word) => quoted(word).replaceAll('$', '$$$$')).join(' ')}
# One pool for the memory of all threads, and what is freed goes back to the system.
Environment=MALLOC_ARENA_MAX=1 MALLOC_TRIM_THRESHOLD_=65536
${variables.map(([name, value]) => `Environment=${quoted(`${name}=${value}`)}`).join('\n')}
# A migration of a large record takes its time.
TimeoutStartSec=10min
TimeoutStopSec=20s
# Ends a process that hangs. One whose pipeline stands ends with exit code 5.
WatchdogSec=60s
Restart=on-failure
RestartSec=5s
# Wrong options: another try would not help.
RestartPreventExitStatus=2

# A separate user, which may use serial ports.
DynamicUser=yes
User=strandward
SupplementaryGroups=dialout
StateDirectory=strandward
StateDirectoryMode=0700
UMask=0077

# Writes nothing but its record${backupFolder === null ? '' : ' and its backups'}.
ProtectSystem=strict
${backupFolder === null ? '' : `ReadWritePaths=${quoted(backupFolder)}\n`}ProtectHome=${needsHome ? 'read-only' : 'yes'}
PrivateTmp=yes
DevicePolicy=closed
${SERIAL_DEVICES.map((device) => `DeviceAllow=${device} rw`).join('\n')}

# No privilege, no other part of the system. (MemoryDenyWriteExecute is impossible: Node compiles while it runs.)
CapabilityBoundingSet=
AmbientCapabilities=
NoNewPrivileges=yes
RestrictAddressFamilies=AF_UNIX AF_INET AF_INET6 AF_NETLINK
RestrictNamespaces=yes
RestrictRealtime=yes
RestrictSUIDSGID=yes
LockPersonality=yes
ProtectClock=yes
ProtectControlGroups=yes
ProtectHostname=yes
ProtectKernelLogs=yes
ProtectKernelModules=yes
ProtectKernelTunables=yes
ProtectProc=invisible
PrivateMounts=yes
RemoveIPC=yes
KeyringMode=private
SystemCallArchitectures=native
SystemCallFilter=@system-service
SystemCallFilter=~@privileged
SystemCallErrorNumber=EPERM
LimitCORE=0
MemoryMax=512M

[Install]
WantedBy=multi-user.target
`;
}

/** A word of a unit, in which nothing is expanded. In a command systemd expands “$” as well. */
function quoted(word: string): string {
  return `"${word.replaceAll('\\', '\\\\').replaceAll('"', '\\"').replaceAll('%', '%%')}"`;
}
