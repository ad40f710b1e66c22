import { dataFolderOf, type Environment, type PrintRequest, readArguments, refuseSurplus } from './arguments.ts';

/** Print what someone who helps needs to know, then end. */
export interface DoctorRequest {
  readonly kind: 'doctor';
  readonly dataFolder: string;
}

const HELP = `Prints what someone needs to know to help you: versions, sizes, the link, active alarms and the last faults. It shows no
passwords, keys or tokens. If Strandward is not running, the record is read instead.

  strandward doctor [options]

  --data FOLDER       folder of the record, or STRANDWARD_DATA      (default: .data)`;

/** @throws Problem `unknown-option` */
export function readDoctor(args: readonly string[], env: Environment): DoctorRequest | PrintRequest {
  const { options, positionals, help } = readArguments('doctor', args, ['data']);
  if (help) return { kind: 'print', text: HELP };
  refuseSurplus('doctor', positionals);
  return { kind: 'doctor', dataFolder: dataFolderOf(options.data, env) };
}
