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
  /** Folder with the settings of every line, for a template unit that starts each by its name; null = the only line. */
  readonly lineFolder?: string | null;
}

/** Where the service keeps its record; systemd creates it for the service's user. */
export const SERVICE_DATA_FOLDER = '/var/lib/strandward';
/** The same for a line of several; not within the folder of the only line, whose owner is another user. */
export const lineDataFolder = (name: string) => `/var/lib/strandward-lines/${name}`;

/** In the kernel's list of devices (admin-guide/devices.txt): USB serial converters, USB modems (most boards), UARTs. */
const SERIAL_DEVICES = ['char-188', 'char-166', 'char-ttyS', 'char-ttyAMA'] as const;

const HOMES = /^\/(home|root|run\/user)(\/|$)/;

/** A systemd unit that lets the service do what it needs and nothing else. */
export function serviceUnit({ command, environment, backupFolder, readFolders, ...options }: UnitOptions): string {
  const { lineFolder = null } = options;
  const [dataFolder, stateFolder] =
    lineFolder === null ? [SERVICE_DATA_FOLDER, 'strandward'] : [lineDataFolder('%i'), 'strandward-lines/%i'];
  const needsHome = [...command, ...readFolders, backupFolder ?? ''].some((path) => HOMES.test(path));
  const variables = Object.entries(environment).map(([name, value]) => quoted(`${name}=${value}`));
  return `# Written by: strandward install-service
[Unit]
Description=Strandward watches ${lineFolder === null ? 'a filament extrusion line' : 'the filament extrusion line %i'}
Wants=network-online.target
After=network-online.target

[Service]
# Ready and alive are reported by systemd-notify, which the service runs: a child, not the main process.
Type=notify
NotifyAccess=all
ExecStart=${command.map((word) => quoted(word).replaceAll('$', '$$$$')).join(' ')}
# One pool for the memory of all threads, and what is freed goes back to the system.
Environment=MALLOC_ARENA_MAX=1 MALLOC_TRIM_THRESHOLD_=65536
${variables.map((variable) => `Environment=${variable}\n`).join('')}Environment="STRANDWARD_DATA=${dataFolder}"
${lineFolder === null ? '' : `EnvironmentFile=${lineFolder.replaceAll('%', '%%')}/%i.env\n`}# A migration of a large record takes its time.
TimeoutStartSec=10min
TimeoutStopSec=20s
# Ends a process that hangs. One whose pipeline is stuck ends with exit code 5.
WatchdogSec=60s
Restart=on-failure
RestartSec=5s
# Wrong options, or a record that someone has to restore: another try would not help.
RestartPreventExitStatus=2 6

# A separate user${lineFolder === null ? '' : ' for each line'}, which may use serial ports.
DynamicUser=yes
User=strandward${lineFolder === null ? '' : '-%i'}
SupplementaryGroups=dialout
StateDirectory=${stateFolder}
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
